// Parts that are not good, reported: how many of how many of which lot, what is wrong, with photos; and which lot of the
// pallet a panel is about.
import { around, signWith } from "./panels.js";
import { lendPhotos, takeInto } from "./photos.js";

const report = document.getElementById("report");

const lotOf = (form) => form.querySelector("select[name=lot]")?.selectedOptions[0] ?? form.querySelector("[name=lot]:checked");

/** How many parts the lot has that is chosen in a form. */
export const chosen = (form) => Number(lotOf(form)?.dataset.qty) || 0;

/** The lot chosen in a form, as a sentence ends with it; nothing where the pallet carries one only. */
export const named = (form) => (lotOf(form)?.dataset.named ? `: ${lotOf(form).dataset.named}` : "");

/** Has a panel say what its chosen lot has; the count that stands there is a suggestion, and gives way to the first digit. */
export function follow(form, changed) {
  const say = () => { form.querySelector("[data-of]").textContent = chosen(form); changed(); };
  form.addEventListener("change", say);
  form.addEventListener("input", changed);
  form.closest("dialog").addEventListener("focusin", (e) => { if (e.target.matches("[data-number]")) e.target.select(); });
  say();
}

if (report) {
  const go = report.querySelector("[data-report-go]");
  const qty = report.elements.qty, what = report.elements.what;

  // What the report still lacks: {say, field}, or null.
  function lacking() {
    const most = chosen(report), n = Number(qty.value);
    if (!Number.isInteger(n) || n < 1) return { say: "How many?", field: qty };
    if (n > most) return { say: `Only ${most} of these are there`, field: qty };
    return what.value.trim() ? null : { say: "What is wrong?", field: what };
  }

  function refresh() {
    qty.dataset.most = chosen(report);
    go.textContent = lacking()?.say ?? `Report ${qty.value} of ${chosen(report)}`;
    report.dataset.says = `${qty.value} of ${chosen(report)}, ${what.value}${named(report)}`;
  }

  follow(report, refresh);

  const ready = around.before;
  around.before = (form) => {
    if (form !== report) return ready(form);
    const lack = lacking();
    lack?.field.focus();
    refresh();
    return !lack;
  };

  // A picture taken first: the panel opens with it.
  document.addEventListener("change", (e) => {
    if (!e.target.matches("[data-shot=problem]") || !e.target.files.length) return;
    document.getElementById("problem").showModal();
    takeInto(document.getElementById("problem"), e.target.files);
    e.target.value = "";
  });
}

/** Reports the bad parts counted of a lot of the work page, before its step is signed; with a badge scanned already. */
export function reportLot(lot, badge) {
  const lotField = [...report.querySelectorAll("[name=lot]")].find((f) => f.matches("select") || f.value === lot.dataset.lotId);
  if (lotField.matches("select")) lotField.value = lot.dataset.lotId; else lotField.checked = true;
  report.elements.qty.value = lot.querySelector("[data-bad]").value;
  report.elements.what.value = lot.querySelector("[data-why-text]").value;
  report.elements.stay.checked = false;
  report.dispatchEvent(new Event("change"));
  lendPhotos(lot, report);
  if (badge) signWith(report, badge); else report.requestSubmit();
}
