// The panels a command needs: signing, a refusal, no answer. And the forms that send commands.
import { bodyOf, NoAnswer, prepare, Refused, send, wantsSignature } from "./command.js";
import { keep, marks, waiting } from "./outbox.js";
import { inTouch } from "./page.js";
import { fill, leaveWord, offer, sayDone, show } from "./said.js";
import { asks, before, drain, ofBadge, open, sendLate, show as showWaits, toldShort, wait } from "./waits.js";

const byId = (id) => document.getElementById(id);
const part = (root, name) => root.querySelector(`[data-part="${name}"]`);

/** What happens around a command; pages put their own in. */
export const around = {
  before: () => true,                       // false: the form is not ready, and says so itself
  sign: () => {},                           // the signing panel opens for a form
  narrow: () => {},                         // a form is to go on with the lots named only
  sent: () => {},                           // a form's command was recorded
};

let signing = null; // {form, rows, given: [{badge, pin}], wanted}; rows: what waits, to be signed once more

export const isBadge = (text) => /^BDG[BCDEFGHJKLNPRTVX]{32}$/i.test(text.trim());

// What a form would have recorded, in words, for whoever signs it later or deals with its refusal.
function says(form) {
  return form.dataset.says ?? [...document.querySelectorAll("#sign :is(label:has(:checked) [data-sum], [data-summary] li)")].map((x) => x.textContent).join("; ");
}

function about(form) {
  return { says: says(form), title: form.dataset.title, text: form.dataset.done ?? "Recorded", next: form.dataset.next ?? location.pathname + location.search, history: form.dataset.history, wanted: Number(form.dataset.sign ?? 0) };
}

// Why a rule is set aside, asked in the signing panel.
const waiveReason = () => document.querySelector("[data-waive-reason]");

function commandOf(form) {
  const confirm = new Set((form.dataset.confirm ?? "").split(" ").filter(Boolean));
  const waive = form.dataset.waive ? [{ code: form.dataset.waive, reason: waiveReason()?.value.trim() ?? "" }] : [];
  return prepare(form.dataset.command, bodyOf(form), { printSeen: Number(form.dataset.print) || undefined, confirm: [...confirm], waive, about: about(form) });
}

/** Sends a form's command, after asking for signatures where it wants them. */
export async function submit(form, given) {
  const badge = scanned.get(form);
  scanned.delete(form);
  if (form.dataset.busy) return;
  if (!around.before(form)) {
    if (given) closeSign(); // what is lacking is on the page, and is signed when it is there
    return;
  }
  const wanted = Number(form.dataset.sign ?? 0);
  if (wanted && !given) return openSign({ form, given: [], wanted, badge });
  form.dataset.busy = "yes"; // a hurried second tap is no second command
  try { await deliver(await commandOf(form), given ?? [], form); } finally { delete form.dataset.busy; }
}

// While something is sent nothing typed may end up in the next signature, and nothing is sent twice.
async function busy(form, act) {
  if (form) form.dataset.busy = "yes";
  document.body.classList.add("sending");
  byId("sign").inert = true;
  try { await act(); } finally {
    if (form) delete form.dataset.busy;
    document.body.classList.remove("sending");
    byId("sign").inert = false;
    if (byId("sign").open) byId("badge").focus();
  }
}

const deliver = (command, given, form) => busy(form, async () => {
  command.by ??= await marks(given);
  delete command.late; // it goes out now because somebody stands here and sends it
  const { id } = command.request;
  const first = await drain(id).then(() => before(command));
  sessionStorage.setItem(underWay, id);
  try {
    if (first.length) throw new NoAnswer();
    const answer = await send(command, given);
    inTouch(true);
    sessionStorage.removeItem(underWay);
    await finished(command, answer, form);
  } catch (e) {
    if (e instanceof Refused) refused(e, command, given, form);
    else if (!(e instanceof NoAnswer)) throw e;
    else await unanswered(command, given, form, first);
  }
});

// Which command this tab was sending, should it be reloaded before the answer.
const underWay = "under way";

async function finished(command, answer, form) {
  const { text, next, history } = command.about ?? {};
  leaveWord({ text, history, notices: answer.notices });
  if (form) around.sent(form);
  const to = form ? await (around.next?.(form, answer)) : null;
  location.assign(to ?? next ?? location.href);
}

// What waited and is recorded now: the page is shown anew as the shop stands, unless somebody is in the midst of it.
function recordedLate(rows, fresh) {
  if (!rows.length) return;
  const { text, history, next } = rows.at(-1).about ?? {};
  leaveWord(rows.length === 1 ? { text, history } : { text: `${rows.length} that waited` });
  const here = rows.some((row) => row.request.id === sessionStorage.getItem(underWay));
  if (here) sessionStorage.removeItem(underWay);
  if (!fresh) sayDone();
  else if (here && next) location.assign(next);
  else location.reload();
}

// Signing

function openSign(asked) {
  signing = asked;
  const panel = byId("sign");
  const rows = asked.rows ?? [];
  part(panel, "resume").hidden = !rows.length;
  part(panel, "leave").hidden = !rows.length;
  const what = part(panel, "resume-what");
  what.hidden = !rows.length;
  what.replaceChildren(...rows.map((row) => Object.assign(document.createElement("li"), { textContent: toldShort(row) })));
  // A form beside the page's own is signed for what it says itself.
  const own = !rows.length && asked.form.closest("dialog") ? asked.form.dataset.says ?? "" : "";
  part(panel, "own").textContent = own;
  part(panel, "own").hidden = !own;
  part(panel, "slot").hidden = !!rows.length || !!own;
  part(panel, "title").textContent = rows.length > 1 ? `Sign ${rows.length} once more` : rows.length ? rows[0].about.title ?? "Sign once more" : asked.form.dataset.title ?? "Sign";
  if (asked.form) around.sign(asked.form);
  byId("refusal").close();
  if (!panel.open) panel.showModal();
  askSignature("");
  if (asked.badge) takeBadge(asked.badge);
}

function askSignature(message) {
  const panel = byId("sign");
  const n = signing.given.length;
  part(panel, "which").textContent = signing.wanted > 1 ? ["First signature", "Second signature", "Third signature"][n] : "";
  part(panel, "message").textContent = message;
  part(panel, "second").hidden = signing.wanted > 1;
  byId("badge").value = "";
  byId("pin").value = "";
  part(panel, "badge-read").hidden = true;
  byId("badge").focus();
}

function takeBadge(text) {
  const panel = byId("sign");
  if (!isBadge(text)) {
    byId("badge").value = "";
    part(panel, "message").textContent = "That is not a badge. Nothing was signed. Scan the QR symbol on your own badge.";
    return;
  }
  byId("badge").value = text.trim().toUpperCase();
  part(panel, "badge-read").hidden = false;
  part(panel, "message").textContent = "";
  byId("pin").focus();
  tellMaker(text.trim().toUpperCase());
}

// Who made what was refused meanwhile is told as soon as their badge is read.
async function tellMaker(badge) {
  const [row, ...more] = await ofBadge(badge);
  if (!row || byId("badge").value !== badge) return;
  const others = more.length ? `, and ${more.length} more` : "";
  part(byId("sign"), "message").textContent = `Something you made while the server was out of touch ${row.state === "refused" ? "was refused" : "needs a look"}${others}: ${row.said?.title ?? ""}`;
}

async function signed() {
  const panel = byId("sign");
  const badge = byId("badge").value, pin = byId("pin").value;
  if (signing.form?.dataset.waive && !waiveReason().value.trim()) {
    part(panel, "message").textContent = "Say why the rule is set aside, then give the PIN.";
    byId("pin").value = "";
    waiveReason().focus();
    return;
  }
  if (!isBadge(badge)) { byId("badge").focus(); return; }
  if (pin === "") { byId("pin").focus(); return; } // the scanner's own Enter
  if (!/^\d{6}$/.test(pin)) { part(panel, "message").textContent = "The PIN has six digits."; byId("pin").focus(); return; }
  signing.given.push({ badge, pin });
  if (signing.given.length < signing.wanted) { askSignature(""); return; }
  const { form, rows, given } = signing;
  byId("pin").value = "";
  byId("badge").value = "";
  if (rows) await signedLate(rows, given);
  else await submit(form, given);
}

// What waited is signed once more, by whoever made it: another's signature would be a false one.
const signedLate = (rows, given) => busy(null, async () => {
  const mark = await marks(given);
  const turnedAway = (message) => { signing.given = []; askSignature(message); };
  if (rows.some((row) => row.by && mark && row.by !== mark)) {
    turnedAway("That is another badge than it was made with. Nothing was signed. Whoever made it signs it, or it is taken off the list.");
    return;
  }
  const sent = [];
  for (const row of rows) {
    const came = await sendLate(row, given);
    if (came === "sent") sent.push(row);
    else if (came === "silent" || came === "failed") { closeSign(); await unanswered(row, given, null, []); return; }
    else if (came !== "refused") { turnedAway(came); return; }
  }
  closeSign();
  sent.push(...await drain());
  if (sent.length < rows.length) { await open(); return; }
  recordedLate(sent, true);
});

function closeSign() {
  signing = null;
  byId("pin").value = "";
  byId("badge").value = "";
  byId("sign").close();
}

const scanned = new WeakMap(); // form → the badge it is to be signed with

/** Submits a form with the badge that was scanned already: the signing panel asks for the PIN only. */
export function signWith(form, badge) {
  if (!form.reportValidity()) return;
  scanned.set(form, badge);
  form.requestSubmit();
}

// A refusal

function refused(refusal, command, given, form) {
  const { problem } = refusal, code = problem.code ?? "";
  if (signing && wantsSignature(refusal)) {
    signing.given = [];
    askSignature([problem.title, problem.remedy ?? problem.detail].filter(Boolean).join(" "));
    return;
  }
  const panel = byId("refusal");
  byId("sign").close();
  byId("silent").close();
  const others = fill(panel, problem);
  offer(part(panel, "others"), form && others > 0, () => {
    around.narrow(form, problem.others);
    panel.close();
    submit(form);
  });
  offer(part(panel, "confirm"), form && problem.ask, () => {
    form.dataset.confirm = `${form.dataset.confirm ?? ""} ${code}`;
    panel.close();
    commandOf(form).then((c) => deliver(c, given, form));
  });
  offer(part(panel, "two"), form && /two/.test(code), () => {
    form.dataset.sign = "2";
    panel.close();
    submit(form);
  });
  show(panel);
}

// No answer

async function unanswered(command, given, form, first) {
  if (first.length) {
    await keep(command);
    await wait(command, given);
    byId("sign").close();
    if (first.every((row) => row.about?.wanted)) return open("What was made before about the same pallet goes out first.");
  } else {
    await wait(command, given);
  }
  inTouch(false);
  const panel = byId("silent");
  part(panel, "again").onclick = () => { panel.close(); deliver(command, given, form); };
  part(panel, "keep").onclick = () => { panel.close(); byId("sign").close(); sessionStorage.removeItem(underWay); };
  show(panel);
}

asks.sign = (rows) => openSign({ rows, given: [], wanted: rows[0].about.wanted });

// The server answers again: what stands before a person goes out as they would send it, the rest by itself.
document.addEventListener("in-touch", async () => {
  if (byId("silent")?.open) part(byId("silent"), "again").click();
  else recordedLate(await drain(), false);
});

if (!document.querySelector("[data-touch]")) addEventListener("online", async () => recordedLate(await drain(), false));

/** What was left unanswered: what needs no signature goes out again, and what this tab was sending asks for it once more. */
async function resume() {
  if (!byId("sign")) return;
  await showWaits();
  recordedLate(await drain(), true);
  const here = sessionStorage.getItem(underWay);
  const row = here && (await waiting()).find((r) => r.request.id === here && r.state === "waits" && r.about?.wanted);
  if (row && !document.querySelector("dialog[open]")) openSign({ rows: [row], given: [], wanted: row.about.wanted });
}

// Wiring

// Scripts come one after the other. What is pressed before all of them are there is judged once they are: a page's own
// script says what is lacking.
const whole = new Promise((done) => {
  if (document.readyState === "complete") done();
  for (const event of ["DOMContentLoaded", "load"]) addEventListener(event, done, { once: true });
});

document.addEventListener("submit", (e) => {
  const form = e.target.closest("form[data-command]");
  if (!form) return;
  e.preventDefault();
  whole.then(() => submit(form));
});

document.addEventListener("click", (e) => {
  const open = e.target.closest("[data-open]");
  if (open) {
    open.closest("dialog")?.close();
    byId(open.dataset.open)?.showModal();
  }
  if (e.target.closest("[data-close]")) e.target.closest("dialog")?.close();
});

const panel = byId("sign");
if (panel) {
  byId("sign-form").addEventListener("submit", (e) => {
    e.preventDefault();
    if (document.activeElement === byId("badge")) takeBadge(byId("badge").value);
    else signed();
  });
  byId("badge").addEventListener("input", () => { if (isBadge(byId("badge").value)) takeBadge(byId("badge").value); });
  byId("pin").addEventListener("input", () => {
    byId("pin").value = byId("pin").value.replace(/\D/g, "");
    if (byId("pin").value.length === 6) signed();
  });
  part(panel, "second").addEventListener("click", () => { signing.wanted = 2; part(panel, "second").hidden = true; part(panel, "which").textContent = "First signature"; byId("badge").focus(); });
  part(panel, "back").addEventListener("click", closeSign);
  part(panel, "leave").addEventListener("click", () => { sessionStorage.removeItem(underWay); closeSign(); });
  panel.addEventListener("cancel", () => { signing = null; });
  // A tap beside the fields takes the focus off them; a scanner or a person who types goes on where they were.
  addEventListener("keydown", (e) => {
    if (!panel.open || e.key.length !== 1 || e.key === " " || e.ctrlKey || e.altKey || e.metaKey || e.target.matches("input, textarea, select")) return;
    byId(isBadge(byId("badge").value) ? "pin" : "badge").focus();
  });
}

sayDone();
resume();
