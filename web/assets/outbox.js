// What waits to be sent: commands whose answer has not come, kept in the browser's own database over a reload, a restart
// or a flat battery, each device's under its own key, oldest first. Badges and PINs are never among them: of a badge
// only its SHA-256 is kept, so that whoever made a command can be told from others; a badge can't be had back from it.

const keeper = document.querySelector("[data-keeper]")?.dataset.keeper ?? "";
const table = "waiting";

const done = (request) => new Promise((ok, no) => {
  request.onsuccess = () => ok(request.result);
  request.onerror = () => no(request.error);
});

// A database that does not answer in time is one that can't be had now: work goes on, and what is sent meanwhile is kept
// for the tab. The next use tries again.
const patience = 2000; // ms

const inTime = (promise) => Promise.race([promise, new Promise((_, no) => { setTimeout(() => no(new Error("the database does not answer")), patience); })]);

let opening = null; // {request, opened}

function database() {
  if (!opening) {
    const request = indexedDB.open("tagalong", 1);
    request.onupgradeneeded = () => request.result.createObjectStore(table, { keyPath: "n", autoIncrement: true });
    const opened = new Promise((ok, no) => {
      request.onsuccess = () => ok(request.result);
      request.onerror = () => no(request.error);
    });
    opening = { request, opened };
  }
  return opening.opened;
}

// A page that is left must not hold the database against the page that follows.
function letGo() {
  const { request } = opening ?? {};
  opening = null;
  if (!request) return;
  if (request.readyState === "done") { if (!request.error) request.result.close(); return; }
  request.onsuccess = () => request.result.close();
  request.transaction?.abort();
}

addEventListener("pagehide", letGo);

// Kept means on the disk: a tablet that loses its power right after still has it.
async function transact(mode, act) {
  const transaction = (await database()).transaction(table, mode, { durability: "strict" });
  const kept = new Promise((ok, no) => {
    transaction.oncomplete = ok;
    transaction.onerror = transaction.onabort = () => no(transaction.error);
  });
  const [result] = await Promise.all([done(act(transaction.objectStore(table))), kept]);
  return result;
}

async function inDatabase(mode, act) {
  try { return await inTime(transact(mode, act)); } catch (e) { letGo(); throw e; }
}

// Whether anything may be in the database. Most pages come and go while nothing waits: they leave it alone.
const flag = "waiting";
const flagged = () => { try { return localStorage.getItem(flag) === "yes"; } catch { return true; } };
const setFlag = (on) => { try { if (on) localStorage.setItem(flag, "yes"); else localStorage.removeItem(flag); } catch { /* looked into each time */ } };

// A page of nobody's device, such as the office's, keeps them for as long as its tab is open.
const session = {
  all() { try { return JSON.parse(sessionStorage.getItem(table)) ?? []; } catch { return []; } },
  write(rows) { try { sessionStorage.setItem(table, JSON.stringify(rows)); } catch { /* a reload would not know of them */ } },
  put(row) {
    row.n ??= Math.max(0, ...this.all().map((r) => r.n)) + 1;
    this.write([...this.all().filter((r) => r.n !== row.n), row].sort((a, b) => a.n - b.n));
  },
  remove(n) { this.write(this.all().filter((r) => r.n !== n)); },
};

/** All that waits, oldest first; foreign marks what another device made that this browser was before. */
export async function waiting() {
  let rows = session.all();
  if (keeper && flagged()) {
    try { rows = [...await inDatabase("readonly", (s) => s.getAll()), ...rows]; } catch { /* what the tab keeps is all there is */ }
  }
  return rows.map((row) => ({ ...row, foreign: row.keeper !== keeper }));
}

/** Keeps a row, new or changed; gives it its number. */
export async function keep(row) {
  row.keeper ??= keeper;
  delete row.foreign;
  if (keeper && !row.tab) {
    setFlag(true);
    try {
      row.n = await inDatabase("readwrite", (s) => s.put(row));
      setFlag(true); // another tab may have found nothing just before
      return row;
    } catch { row.tab = true; }
  }
  session.put(row);
  return row;
}

/** Forgets a row: it was answered, or a person has dealt with it. */
export async function remove(row) {
  if (row.n === undefined) return;
  if (!keeper || row.tab) { session.remove(row.n); return; }
  try {
    await inDatabase("readwrite", (s) => s.delete(row.n));
    if (await inDatabase("readonly", (s) => s.count()) === 0) setFlag(false);
  } catch { /* it is sent again, and answered as before */ }
}

/** The SHA-256 of badges, in hex; "" where the address is not secure enough for the browser to reckon one. */
export async function marks(given) {
  if (!given.length || !globalThis.crypto?.subtle) return "";
  const text = given.map((g) => g.badge).join(" ");
  const sum = await crypto.subtle.digest("SHA-256", new TextEncoder().encode(text));
  return Array.from(new Uint8Array(sum), (b) => b.toString(16).padStart(2, "0")).join("");
}

const codes = (row) => new Set(JSON.stringify(row.request.body).match(/"[PSU][2-9A-HJKMNP-Z]{7}"/g));

/** Whether two rows are about one pallet, sheet or unit: what was done to it first is sent first. */
export function about(a, b) {
  const of = codes(a);
  return [...codes(b)].some((c) => of.has(c));
}
