// What waits to be sent, on the page: how many and since when, the list of them, and sending them oldest first when the
// server is back. What the server refused then stays on the list until a person has dealt with it.
import { NoAnswer, Refused, send, shopClock, wantsSignature } from "./command.js";
import { inTouch } from "./page.js";
import { about, keep, marks, remove, waiting } from "./outbox.js";

const byId = (id) => document.getElementById(id);
const part = (root, name) => root.querySelector(`[data-part="${name}"]`);
const onFace = 4;

/** What the panels do for a row of the list: ask its signature once more. */
export const asks = { sign: () => {} };

// Signatures given on this page for what had no answer yet: in memory, and gone with the page.
const hand = new Map();

/** Has a command's signatures at hand for as long as this page is open, and shows that it waits. */
export function wait(command, given) {
  if (given.length) hand.set(command.request.id, given);
  return show();
}

const ours = (row) => row.state === "waits" && !row.foreign;
const unsigned = (row) => row.about?.wanted > 0 && !hand.has(row.request.id);

/** What must go before a command, as it is about the same pallet and was made earlier. */
export async function before(command) {
  return (await waiting()).filter((row) => ours(row) && row.request.id !== command.request.id && (command.n ?? Infinity) > row.n && about(row, command));
}

let draining = null;

/** Sends what waits, oldest first, save the command of an id. What waits for a signature stays, and so does what is about
 * the same pallets and was made after it. Gives what was recorded. */
export function drain(except) {
  draining ??= sendAll(except).finally(() => { draining = null; });
  return draining;
}

async function sendAll(except) {
  const sent = [], stuck = [];
  for (const row of await waiting()) {
    if (!ours(row) || row.request.id === except) continue;
    if (unsigned(row) || stuck.some((s) => about(s, row))) { stuck.push(row); continue; }
    const came = await sendLate(row, hand.get(row.request.id) ?? []);
    if (came === "sent") sent.push(row);
    else if (came !== "refused") stuck.push(row); // one that the server fails at holds up its own pallets only
    if (came === "silent" || came === "failed") inTouch(false);
    if (came === "silent") break;
  }
  await show();
  return sent;
}

/** Sends what was made while there was no answer, as that: "sent", "refused" (it is on the list), "silent", "failed"
 * (the server answered, and could not), or the words with which its signature was turned away. */
export async function sendLate(row, given) {
  row.late = true;
  try {
    const answer = await send(row, given);
    hand.delete(row.request.id);
    const [notice] = answer.notices ?? [];
    if (notice) await keep({ ...row, state: "told", said: notice }); else await remove(row);
    return "sent";
  } catch (e) {
    if (e instanceof NoAnswer) return e.failed ? "failed" : "silent";
    if (!(e instanceof Refused)) throw e;
    if (e.status === 401) return "silent"; // nobody knows this device now: nothing was judged
    hand.delete(row.request.id);
    if (wantsSignature(e)) return [e.problem.title, e.problem.remedy ?? e.problem.detail].filter(Boolean).join(" ");
    await keep({ ...row, state: "refused", said: e.problem });
    return "refused";
  }
}

/** What was refused, or told, of what the holder of a badge made. */
export async function ofBadge(badge) {
  const rows = (await waiting()).filter((row) => row.state !== "waits" && row.by);
  const mark = rows.length ? await marks([{ badge }]) : "";
  return rows.filter((row) => row.by === mark);
}

// The line at the page's foot

/** Brings the line and the list up to date. */
export async function show() {
  const line = document.querySelector("[data-waits]");
  if (!line) return;
  const rows = await waiting();
  const ready = rows.filter(ours), look = rows.length - ready.length;
  const again = ready.filter(unsigned).length;
  part(line, "text").textContent = [
    ready.length && `${ready.length} waiting to be sent, since ${shopClock(ready[0].made)}`,
    again && `${again === ready.length ? "" : `${again} `}to be signed once more`,
    look && `${look} to look at`,
  ].filter(Boolean).join(", ");
  line.hidden = rows.length === 0;
  if (byId("waits").open) list(rows);
}

// The list

let from = 0;
let leaving = null; // id of what is to be taken off, asked once more

const kindWords = (kind) => kind[0].toUpperCase() + kind.slice(1).replaceAll("-", " ");

/** A row in one line: when it was made, what it is about, what it says. */
export function toldShort(row) {
  const codes = new Set(JSON.stringify(row.request.body).match(/[PSU][2-9A-HJKMNP-Z]{7}(?=")/g));
  const where = [...codes].slice(0, 2).map((c) => `${c.slice(0, 4)} ${c.slice(4)}`).join(", ");
  return `${shopClock(row.made)}, ${[row.about?.title ?? kindWords(row.kind), where].filter(Boolean).join(", ")}${row.about?.says ? `: ${row.about.says}` : ""}`;
}

function state(row, rows) {
  const said = [row.said?.title, row.said?.remedy].filter(Boolean).join(" ");
  if (row.foreign) return "Made while this device was another tablet: it can't be sent from here. Enter it anew at its station.";
  if (row.state === "refused") return `Refused: ${said}`;
  if (row.state === "told") return `Recorded, but: ${said}`;
  if (unsigned(row)) return "To be signed once more by whoever made it: a PIN is never kept.";
  return rows.some((r) => ours(r) && unsigned(r) && r.n < row.n && about(r, row)) ? "Goes out after what was made before it about the same pallet."
    : "Goes out by itself when the server answers.";
}

function button(text, act) {
  const b = document.createElement("button");
  b.type = "button";
  b.textContent = text;
  b.addEventListener("click", act);
  return b;
}

async function takeOff(row) {
  if (ours(row) && leaving !== row.request.id) {
    leaving = row.request.id;
    return show();
  }
  leaving = null;
  hand.delete(row.request.id);
  await remove(row);
  await show();
  if (!(await waiting()).length) byId("waits").close();
  else byId("waits").querySelector("[data-close]").focus();
}

function entry(row, rows) {
  const li = document.createElement("li");
  const words = document.createElement("div");
  const title = document.createElement("strong");
  title.textContent = toldShort(row);
  const text = document.createElement("p");
  const sure = leaving === row.request.id;
  text.textContent = sure ? "It may be recorded or not: look at the pallet's history. Taken off, it is never sent." : state(row, rows);
  words.append(title, text);
  li.append(words);
  if (ours(row) && unsigned(row) && !sure) li.append(button("Sign", () => { byId("waits").close(); asks.sign([row]); }));
  li.append(button(sure ? "Yes, take it off" : ours(row) ? "Take off" : "Dealt with", () => takeOff(row)));
  return li;
}

function list(rows) {
  const panel = byId("waits");
  if (from >= rows.length) from = 0;
  part(panel, "rows").replaceChildren(...rows.slice(from, from + onFace).map((row) => entry(row, rows)));
  part(panel, "turn").hidden = rows.length <= onFace;
  const again = rows.filter((row) => ours(row) && unsigned(row));
  const together = again.filter((row) => row.by && row.by === again[0].by && row.about.wanted === again[0].about.wanted);
  const all = part(panel, "together");
  all.hidden = together.length < 2;
  all.textContent = `Sign ${together.length} together`;
  all.onclick = () => { panel.close(); asks.sign(together); };
}

/** Opens the list, with what is to be said first. */
export async function open(message = "") {
  const panel = byId("waits");
  part(panel, "message").textContent = message;
  leaving = null;
  list(await waiting());
  if (!panel.open) panel.showModal();
}

const line = document.querySelector("[data-waits]");
if (line) {
  part(line, "see").addEventListener("click", () => open());
  part(byId("waits"), "turn").addEventListener("click", async () => { from += onFace; list(await waiting()); });
}
