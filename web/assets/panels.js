// The panels a command needs: signing, a refusal, no answer. And the forms that send commands.
import { bodyOf, forget, NoAnswer, pending, prepare, Refused, send } from "./command.js";
import { inTouch } from "./page.js";

const byId = (id) => document.getElementById(id);
const capital = (s) => (s ? s[0].toUpperCase() + s.slice(1) : "");
const part = (root, name) => root.querySelector(`[data-part="${name}"]`);

/** What happens around a command; pages put their own in. */
export const around = {
  before: () => true,                       // false: the form is not ready, and says so itself
  sign: () => {},                           // the signing panel opens for a form
  narrow: () => {},                         // a form is to go on with the lots named only
  sent: () => {},                           // a form's command was recorded
};

let signing = null; // {form, command, given: [{badge, pin}], wanted, message}

export const isBadge = (text) => /^BDG[BCDEFGHJKLNPRTVX]{32}$/i.test(text.trim());

function about(form) {
  return { title: form.dataset.title, text: form.dataset.done ?? "Recorded", next: form.dataset.next ?? location.pathname + location.search, history: form.dataset.history, wanted: Number(form.dataset.sign ?? 0) };
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
  if (form.dataset.busy || !around.before(form)) return;
  const wanted = Number(form.dataset.sign ?? 0);
  if (wanted && !given) return openSign({ form, given: [], wanted, badge });
  await deliver(commandOf(form), given ?? [], form);
}

async function deliver(command, given, form) {
  if (form) form.dataset.busy = "yes";
  document.body.classList.add("sending");
  byId("sign").inert = true; // nothing typed now may end up in the next signature
  try {
    const answer = await send(command, given);
    inTouch(true);
    await finished(command, answer, form);
  } catch (e) {
    if (e instanceof Refused) refused(e, command, given, form);
    else if (e instanceof NoAnswer) unanswered(command, given, form);
    else throw e;
  } finally {
    if (form) delete form.dataset.busy;
    document.body.classList.remove("sending");
    byId("sign").inert = false;
    if (byId("sign").open) byId("badge").focus();
  }
}

async function finished(command, answer, form) {
  const { text, next, history } = command.about ?? {};
  sessionStorage.setItem("done", JSON.stringify({ text, history, notices: (answer.notices ?? []).map((n) => n.title).filter(Boolean) }));
  if (form) around.sent(form);
  const to = form ? await (around.next?.(form, answer)) : null;
  location.assign(to ?? next ?? location.href);
}

// Signing

function openSign(what) {
  signing = what;
  const panel = byId("sign");
  part(panel, "resume").hidden = !what.command;
  part(panel, "leave").hidden = !what.command;
  part(panel, "slot").hidden = !!what.command;
  part(panel, "title").textContent = what.command ? what.command.about?.title ?? "Sign once more" : what.form.dataset.title ?? "Sign";
  if (what.form) around.sign(what.form);
  byId("refusal").close();
  if (!panel.open) panel.showModal();
  askSignature("");
  if (what.badge) takeBadge(what.badge);
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
  const { form, command, given } = signing;
  byId("pin").value = "";
  byId("badge").value = "";
  if (command) await deliver(command, given, null);
  else await submit(form, given);
}

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

const signatureCodes = /^(pin|badge|signer|signed|tablet-locked|tablet-wait)/;

function refused({ problem, status }, command, given, form) {
  const code = problem.code ?? "";
  if (signing && (signatureCodes.test(code) || status === 429)) {
    signing.given = [];
    askSignature([problem.title, problem.remedy ?? problem.detail].filter(Boolean).join(" "));
    return;
  }
  const panel = byId("refusal");
  byId("sign").close();
  byId("silent").close();
  panel.classList.toggle("asks", !!problem.ask);
  part(panel, "flag").textContent = problem.ask ? "Look first. Nothing was recorded." : "Stop. Nothing was recorded.";
  part(panel, "title").textContent = problem.title ?? "The shop's server refused this.";
  part(panel, "why").textContent = problem.why ?? "";
  part(panel, "remedy").textContent = (problem.remedy ?? problem.detail ?? "").replace(/^Nothing was recorded\. /, "");
  const who = part(panel, "who");
  who.textContent = [capital(problem.who).replace(/[^.]$/, "$&."), problem.absolute ? "No concession exists for this rule." : ""].filter(Boolean).join(" ");
  who.parentElement.hidden = !who.textContent;
  const others = part(panel, "others");
  const n = problem.others?.length ?? 0;
  others.textContent = n === 1 ? "Go on with the other lot" : `Go on with the ${n} other lots`;
  offer(others, form && n > 0, () => {
    around.narrow(form, problem.others);
    panel.close();
    submit(form);
  });
  offer(part(panel, "confirm"), form && problem.ask, () => {
    form.dataset.confirm = `${form.dataset.confirm ?? ""} ${code}`;
    panel.close();
    deliver(commandOf(form), given, form);
  });
  offer(part(panel, "two"), form && /two/.test(code), () => {
    form.dataset.sign = "2";
    panel.close();
    submit(form);
  });
  show(panel);
}

// A PIN goes out with its sixth digit, and many press Enter after it all the same. That Enter must not press a button
// of a panel that came up under it and that nobody has read: the panel has the focus, its buttons are one Tab away.
function show(panel) {
  if (!panel.open) panel.showModal();
  panel.tabIndex = -1;
  panel.focus();
}

function offer(button, on, act) {
  button.hidden = !on;
  button.onclick = act;
}

// No answer

function unanswered(command, given, form) {
  inTouch(false);
  const panel = byId("silent");
  part(panel, "again").onclick = () => { panel.close(); deliver(command, given, form); };
  part(panel, "keep").onclick = () => panel.close();
  show(panel);
}

/** A command a reload interrupted: what needs no signature goes out again, the rest asks for it once more. */
function resume() {
  const command = pending();
  if (!command || !byId("sign")) return;
  if (unsigned.has(command.kind) || command.about?.wanted === 0) deliver(command, [], null);
  else openSign({ command, given: [], wanted: command.about?.wanted || 1 });
}

const unsigned = new Set(["take-in", "hand-over", "begin", "divide", "gather", "put-back", "print-traveller", "load", "take-back"]);

// Wiring

document.addEventListener("submit", (e) => {
  const form = e.target.closest("form[data-command]");
  if (!form) return;
  e.preventDefault();
  submit(form);
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
  part(panel, "leave").addEventListener("click", () => { forget(); closeSign(); });
  panel.addEventListener("cancel", () => { signing = null; });
  // A tap beside the fields takes the focus off them; a scanner or a person who types goes on where they were.
  addEventListener("keydown", (e) => {
    if (!panel.open || e.key.length !== 1 || e.key === " " || e.ctrlKey || e.altKey || e.metaKey || e.target.matches("input, textarea, select")) return;
    byId(isBadge(byId("badge").value) ? "pin" : "badge").focus();
  });
}

const done = document.querySelector("[data-done-line]");
const last = sessionStorage.getItem("done");
if (done && last) {
  sessionStorage.removeItem("done");
  const { text, history, notices } = JSON.parse(last);
  part(done, "text").textContent = text ?? "Recorded";
  part(done, "notices").textContent = (notices ?? []).join(" ");
  const link = part(done, "history");
  if (history) link.href = history; else link.hidden = true;
  done.hidden = false;
}
resume();
