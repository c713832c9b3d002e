// Commands: built from a form, sent once, kept until the shop has answered.
//
// A command has one id, made here. If no answer comes, the same command is sent
// again under the same id, so it is recorded once however often the button is
// pressed or the page reloaded. Badges and PINs are never kept.
import { keep, remove, waiting } from "./outbox.js";

// How far the shop's clock is ahead of this device's, as the page's title block had it. A tablet whose own clock is
// wrong still says truly when something happened.
const block = document.querySelector("[data-clock]");
const ahead = block ? Date.parse(block.dateTime) - Date.now() : 0;
const shopTime = () => new Date(Date.now() + ahead).toISOString();

/** A random UUID; also where the page is not from a secure address. */
export function newID() {
  if (crypto.randomUUID) return crypto.randomUUID();
  const b = crypto.getRandomValues(new Uint8Array(16));
  b[6] = (b[6] & 0x0f) | 0x40;
  b[8] = (b[8] & 0x3f) | 0x80;
  const hex = Array.from(b, (v) => v.toString(16).padStart(2, "0")).join("");
  return hex.replace(/^(.{8})(.{4})(.{4})(.{4})(.{12})$/, "$1-$2-$3-$4-$5");
}

function place(into, path, value) {
  const keys = path.split(".");
  const last = keys.pop();
  let at = into;
  keys.forEach((key, i) => {
    const next = keys[i + 1] ?? last;
    at[key] ??= /^\d+$/.test(next) ? [] : {};
    at = at[key];
  });
  at[last] = value;
}

// Unticked and unread characteristics, picks of nothing and carriers not weighed are left out, and so are the holes they leave.
function prune(v) {
  if (Array.isArray(v)) return v.map(prune).filter((x) => x !== undefined);
  if (v === null || typeof v !== "object") return v;
  if ("characteristic" in v && !("met" in v)) return undefined;
  const out = Object.fromEntries(Object.entries(v).map(([k, x]) => [k, prune(x)]));
  for (const name of ["picks", "in", "out", "change"]) {
    if (Array.isArray(out[name])) out[name] = out[name].filter((p) => p.lot && p.qty);
  }
  if (Array.isArray(out.gross)) out.gross = out.gross.filter((g) => "kg" in g);
  return out;
}

// The moment at which clocks of a time zone show a local date and time. Where the hour is passed twice, in autumn, it is
// the later one.
function instant(local, zone) {
  const asked = Date.parse(`${local}Z`);
  const face = new Intl.DateTimeFormat("sv-SE", { timeZone: zone, dateStyle: "short", timeStyle: "medium" });
  const shows = (ms) => Date.parse(`${face.format(ms).replace(" ", "T")}Z`);
  let at = asked;
  for (let i = 0; i < 2; i++) at += asked - shows(at);
  return new Date(at).toISOString();
}

function read(field) {
  if (!field.name || field.matches(":disabled")) return undefined;
  if (field.type === "checkbox" || field.type === "radio") {
    if (!field.checked) return undefined;
    if (!field.hasAttribute("value")) return true;
  }
  const text = field.value.trim();
  if (text === "") return undefined;
  if (field.dataset.type === "number") return Number(text.replace(",", "."));
  if (field.dataset.type === "bool") return text === "true";
  if (field.dataset.type === "moment") return instant(text, field.dataset.zone);
  return text;
}

/** The command's body, from fields named by their place: "lots.0.good". */
export function bodyOf(form) {
  const body = {};
  for (const field of form.elements) {
    if (field.dataset.part) continue;
    const value = read(field);
    if (value !== undefined) place(body, field.name, value);
  }
  return prune(body);
}

function sequence() {
  let n = 0;
  try { n = Number(localStorage.getItem("sequence")) || 0; localStorage.setItem("sequence", n + 1); } catch { return undefined; }
  return n + 1;
}

function lastContact() {
  try { return localStorage.getItem("lastContact") ?? undefined; } catch { return undefined; }
}

function heard(answer) {
  const date = Date.parse(answer.headers.get("Date") ?? "");
  if (!Number.isNaN(date)) {
    try { localStorage.setItem("lastContact", new Date(date).toISOString()); } catch { /* told next time */ }
  }
}

/** A command ready to be sent: {kind, what, request, about, made, state}. About is what a person would call it. What was
 * made and not answered before is the same command. */
export async function prepare(kind, body, { printSeen, confirm, waive, about } = {}) {
  const what = JSON.stringify([kind, body, printSeen ?? 0, confirm ?? [], waive ?? []]);
  const before = (await waiting()).find((row) => row.what === what && row.state === "waits" && !row.foreign);
  if (before) return before;
  const made = shopTime();
  const request = { id: newID(), happened: made, sequence: sequence(), lastContact: lastContact(), body };
  if (printSeen) request.printSeen = printSeen;
  if (confirm?.length) request.confirm = confirm;
  if (waive?.length) request.waive = waive;
  return { kind, what, request, about, made, state: "waits" };
}

/** The time of day at the shop, with the day where it is another: "10:42". */
export function shopClock(iso) {
  const offset = block?.dateTime.match(/([+-])(\d\d):(\d\d)$/);
  const ahead = offset ? Number(`${offset[1]}1`) * (Number(offset[2]) * 60 + Number(offset[3])) * 60000 : 0;
  const local = (ms) => new Date(ms + ahead);
  const then = local(Date.parse(iso)), now = local(Date.parse(shopTime()));
  const day = then.toISOString().slice(0, 10) === now.toISOString().slice(0, 10) ? ""
    : `${then.toLocaleDateString("en-GB", { day: "numeric", month: "short", timeZone: "UTC" })}, `;
  return day + then.toISOString().slice(11, 16);
}

/** No answer came, or none but that the server failed; the command is kept and may be sent again. */
export class NoAnswer extends Error {
  constructor(failed = false) {
    super();
    this.failed = failed; // the server was reached
  }
}

/** The shop said no, and why: problem is its RFC 9457 document. */
export class Refused extends Error {
  constructor(problem, status) {
    super(problem.title);
    this.problem = problem;
    this.status = status;
  }
}

/** Whether a command was turned away for its signature alone: it is as it was, to be signed again. */
export const wantsSignature = ({ problem, status }) => /^(pin|badge|signer|signed|tablet-locked|tablet-wait)/.test(problem.code ?? "") || status === 429;

const wait = (ms) => new Promise((done) => setTimeout(done, ms));

/** Sends a prepared command, three times if need be, and keeps it until it is answered. Throws Refused or NoAnswer.
 * What is late says that it was made out of touch, and is kept further: whoever sends it knows what becomes of it. */
export async function send(command, sign = []) {
  await keep(command);
  const request = command.late ? { ...command.request, offline: true } : command.request;
  const text = JSON.stringify(sign.length ? { ...request, sign } : request);
  for (let tries = 0; ; tries++) {
    let answer;
    try {
      answer = await fetch(`/api/commands/${command.kind}`, {
        method: "POST", body: text, headers: { "Content-Type": "application/json", Accept: "application/json" },
        signal: AbortSignal.timeout(10000),
      });
    } catch { answer = null; }
    if (answer && answer.status < 500) return settle(command, answer);
    if (tries === 2) throw new NoAnswer(!!answer);
    await wait(700 * (tries + 1));
  }
}

async function settle(command, answer) {
  heard(answer);
  const said = await answer.json().catch(() => ({}));
  if (!command.late) await remove(command);
  if (answer.ok) return said;
  throw new Refused(said, answer.status);
}
