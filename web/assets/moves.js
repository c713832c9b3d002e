// Parts from one pallet to another: how many of which lots, and onto which pallet. In a move of its own, and at the far
// end of a step, where the good ones are put down as they come off the work.
import { around } from "./panels.js";
import { aim, setCount } from "./pad.js";

const number = (field) => Number(field.value) || 0;
const spaced = (code) => code.replace(/^(\w{4})(\w{4})$/, "$1 $2");
const parts = (n) => (n === 1 ? "1 part" : `${n} parts`);
const ontoWhat = (code) => (!code || code.startsWith("new:") ? "a new pallet" : spaced(code));
const faceful = 4;

/** The rows of a panel: one for each lot, with what may be taken of it. */
class Rows {
  constructor(panel, changed) {
    this.all = [...panel.querySelectorAll("[data-part-row]")];
    this.from = 0;
    panel.addEventListener("click", (e) => {
      if (e.target.closest("[data-parts-turn]")) this.show(this.from + faceful < this.open().length ? this.from + faceful : 0);
    });
    panel.addEventListener("input", changed);
  }

  most(row) { return Number(row.dataset.most); }
  field(row) { return row.querySelector("[data-number]"); }
  count(row) { return number(this.field(row)); }
  open() { return this.all.filter((row) => !row.dataset.away); }
  sum() { return this.open().reduce((n, row) => n + this.count(row), 0); }
  over() { return this.open().find((row) => this.count(row) > this.most(row)); }

  set(row, n) { setCount(this.field(row), n); }

  show(from) {
    this.from = from;
    const open = this.open();
    this.all.forEach((row) => { row.hidden = !open.slice(from, from + faceful).includes(row); });
    aim(null);
  }
}

// A scanner ends with Enter. In these panels that names the pallet and no more: the big button is the confirmation.
function scanned(panel, go, changed) {
  const code = panel.querySelector("[data-code]");
  let named = false;
  const enter = (e) => e.key === "Enter" && code.value !== "";
  for (const kind of ["keydown", "keypress"]) {
    code.addEventListener(kind, (e) => { if (enter(e)) { e.preventDefault(); named = true; } });
  }
  code.addEventListener("keyup", (e) => {
    if (!named || !enter(e)) return;
    named = false;
    code.dispatchEvent(new Event("change", { bubbles: true }));
    changed();
    go.focus();
  });
  panel.addEventListener("change", changed);
  return code;
}

const ready = around.before;
const checks = new Map(); // form → may it go out
around.before = (form) => ready(form) && (checks.get(form)?.() ?? true);

// A move of its own

const move = document.querySelector("form[data-parts]");

if (move) {
  const go = move.querySelector("[data-parts-go]");
  const say = () => {
    const over = rows.over();
    go.textContent = over ? `Only ${rows.most(over)} of these are there`
      : rows.sum() ? `Move ${parts(rows.sum())} onto ${ontoWhat(code.value)}` : "How many?";
    move.dataset.says = `${parts(rows.sum())} onto ${ontoWhat(code.value)}`;
  };
  const rows = new Rows(move, say);
  const code = scanned(move, go, say);
  const closest = () => rows.over() ?? rows.open()[0];
  checks.set(move, () => {
    if (rows.sum() && !rows.over()) return true;
    const row = closest();
    rows.show(Math.floor(rows.open().indexOf(row) / faceful) * faceful);
    rows.field(row).focus();
    return false;
  });
  say();
}

// The far end of a step

const work = document.querySelector("form[data-steps]");
const far = document.querySelector("[data-onto]");

if (work && far) {
  const lots = [...work.querySelectorAll("[data-lot]")];
  const opener = work.querySelector("[data-onto-open]");
  const says = document.querySelector("[data-onto-says]");
  const done = far.querySelector("[data-onto-done]");
  const list = far.querySelector("[data-onto-list]");
  let put = []; // {pallet, counts: [of each lot]}

  const good = (i) => (lots[i].disabled ? 0 : number(lots[i].querySelector("[data-good]")));
  const down = (i) => put.reduce((n, p) => n + p.counts[i], 0);
  const total = (p) => p.counts.reduce((n, x) => n + x, 0);
  const said = (p) => `${parts(total(p))} onto ${ontoWhat(p.pallet)}`;

  const say = () => {
    const over = rows.over();
    done.textContent = over ? `Only ${rows.most(over)} of these are good and left`
      : rows.sum() ? `Put ${parts(rows.sum())} down on ${ontoWhat(code.value)}` : put.length ? "That is where they are" : "How many?";
    far.querySelector("[data-onto-more]").hidden = !rows.sum() || !!over || rows.sum() === rows.open().reduce((n, r) => n + rows.most(r), 0);
  };
  const rows = new Rows(far, say);
  const code = scanned(far, done, say);

  // What is good and lies nowhere yet is offered whole: at the far end of a conveyor that is nearly always so.
  function offer() {
    rows.all.forEach((row, i) => {
      const left = good(i) - down(i);
      row.dataset.most = left;
      row.querySelector("[data-part-of]").textContent = left;
      if (left > 0) delete row.dataset.away; else row.dataset.away = "yes";
      rows.field(row).value = left > 0 ? left : "";
    });
    code.value = "";
    list.replaceChildren(...put.slice(-3).map((p) => Object.assign(document.createElement("li"), { textContent: said(p) })));
    rows.show(0);
    say();
  }

  function keep() {
    const over = rows.over();
    if (over) { rows.field(over).focus(); return false; }
    if (!rows.sum()) return put.length > 0;
    const pallet = code.value || `new:${String.fromCharCode(65 + put.length)}`;
    const counts = rows.all.map((row) => (row.dataset.away ? 0 : rows.count(row)));
    const same = put.find((p) => p.pallet === pallet);
    if (same) same.counts = same.counts.map((n, i) => n + counts[i]);
    else put.push({ pallet, counts });
    return true;
  }

  // The command's body takes them from hidden fields of the lot they belong to.
  function write() {
    lots.forEach((lot, i) => {
      lot.querySelectorAll("[data-onto-input]").forEach((f) => f.remove());
      put.filter((p) => p.counts[i]).forEach((p, n) => {
        for (const [name, value, type] of [["pallet", p.pallet, ""], ["qty", p.counts[i], "number"]]) {
          const f = Object.assign(document.createElement("input"), { type: "hidden", name: `lots.${i}.onto.${n}.${name}`, value });
          f.dataset.ontoInput = "";
          if (type) f.dataset.type = type;
          lot.append(f);
        }
      });
    });
    const text = put.map(said).join(", ");
    opener.classList.toggle("on", put.length > 0);
    if (says) {
      says.hidden = !put.length;
      says.querySelector("[data-onto-text]").textContent = text;
    }
  }

  function open(message) {
    far.querySelector("[data-onto-message]").textContent = message;
    offer();
    far.showModal();
    done.focus();
  }

  opener.addEventListener("click", () => open(""));
  done.addEventListener("click", () => { if (keep()) { write(); far.close(); work.querySelector("[data-go]").focus(); } });
  far.querySelector("[data-onto-more]").addEventListener("click", () => { if (keep()) { write(); offer(); code.focus(); } });
  far.querySelector("[data-onto-off]").addEventListener("click", () => { put = []; write(); far.close(); });

  checks.set(work, () => {
    if (lots.every((_, i) => down(i) <= good(i))) {
      // What is put on fresh pallets is printed as soon as this is signed: their tickets are no question now.
      const sent = put.length && document.querySelector("[name=handTo]:checked")?.value;
      const confirm = new Set((work.dataset.confirm ?? "").split(" ").filter(Boolean));
      if (sent) confirm.add("reprint-due"); else confirm.delete("reprint-due");
      work.dataset.confirm = [...confirm].join(" ");
      return true;
    }
    document.getElementById("sign").close();
    put = [];
    write();
    open("Fewer are good now than were put down. Count again what was put down where.");
    return false;
  });
}

// Lending

const lend = document.querySelector("form[data-lend]");

if (lend) {
  const go = lend.querySelector("[data-lend-go]");
  const order = lend.elements["to.order"], line = lend.elements["to.line"], why = lend.querySelector("[data-reason]");
  const whom = () => (order.value.trim() ? `${order.value.trim()}, line ${line.value || "?"}` : "stock");
  const chosen = () => [...lend.querySelectorAll("[data-lend-to]")].find((b) => b.getAttribute("aria-pressed") === "true");
  const say = () => {
    const n = rows.sum();
    const text = `${chosen()?.dataset.qty ? "Pay" : "Lend"} ${parts(n)} ${chosen()?.dataset.qty ? "back to" : "to"} ${whom()}`;
    go.textContent = rows.over() ? `Only ${rows.most(rows.over())} of these are there` : n ? text : "How many?";
    document.querySelector("[data-lend-says]").textContent = lend.dataset.says = text;
  };
  const rows = new Rows(lend, say);
  lend.addEventListener("click", (e) => {
    const to = e.target.closest("[data-lend-to]");
    if (!to) return;
    lend.querySelectorAll("[data-lend-to]").forEach((b) => b.setAttribute("aria-pressed", String(b === to)));
    order.value = to.dataset.order;
    line.value = to.dataset.line;
    if (to.dataset.qty) rows.set(rows.all[0], Number(to.dataset.qty));
    if (to.dataset.whyText) why.value = to.dataset.whyText;
    say();
  });
  checks.set(lend, () => {
    if (rows.sum() && !rows.over()) return true;
    rows.field(rows.all[0]).focus();
    return false;
  });
  say();
}

// Several lots made one: whoever signs sees which.

const fuse = document.querySelector("#fuse form");
fuse?.addEventListener("change", () => {
  const lots = [...fuse.querySelectorAll("[name^=lots]:checked")].map((f) => f.nextElementSibling.textContent);
  fuse.dataset.says = `one lot of ${lots.join(" and ")}${fuse.elements.mix.checked ? ", mixed already: what differs becomes unsure" : ""}`;
});

// After what changed a pallet's load, the prints it made due.
const before = around.next;
around.next = (form, answer) => {
  const own = form.dataset.prints;
  if (!own) return before?.(form, answer) ?? null;
  const codes = new Set((answer.events ?? []).flatMap((e) => e.pallets ?? []));
  const others = [...codes].filter((c) => c !== own);
  if (!others.length && form.dataset.command !== "change-owner") return null;
  const asked = new URLSearchParams({ pallets: [...codes].join(",") });
  const on = form.dataset.command === "divide" ? others.at(-1) : form.dataset.next === "/station" ? "" : own;
  if (on) asked.set("next", on);
  return `/station/prints?${asked}`;
};
