// Parts that are not good, reported: how many of how many of which lot, what is wrong, with photos; and a lot counted again.
import { around, signWith } from "./panels.js";
import { lendPhotos } from "./photos.js";

const report = document.getElementById("report");

// The lot chosen in a form: what its count may be of.
function chosen(form) {
  const field = form.querySelector("select[name=lot]")?.selectedOptions[0] ?? form.querySelector("[name=lot]:checked");
  return field ? Number(field.dataset.qty) : 0;
}

function follow(form) {
  const most = chosen(form);
  form.querySelector("[data-number]").dataset.most = most;
  form.querySelector("[data-of]").textContent = most;
}

for (const form of document.querySelectorAll("#problem form, #recount form")) {
  form.addEventListener("change", () => follow(form));
  // What stands there is a suggestion: it gives way to the first digit.
  form.closest("dialog").addEventListener("focusin", (e) => { if (e.target.matches("[data-number]")) e.target.select(); });
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
    go.textContent = lacking()?.say ?? `Report ${qty.value} of ${chosen(report)}`;
    report.dataset.says = `${qty.value} of ${chosen(report)}, ${what.value}`;
  }

  report.addEventListener("input", refresh);
  report.addEventListener("change", refresh);
  refresh();

  const ready = around.before;
  around.before = (form) => {
    if (form !== report) return ready(form);
    const lack = lacking();
    lack?.field.focus();
    refresh();
    return !lack;
  };
}

/** Reports the bad parts counted of a lot of the work page, before its step is signed; with a badge scanned already. */
export function reportLot(lot, badge) {
  const lotField = [...report.querySelectorAll("[name=lot]")].find((f) => f.matches("select") || f.value === lot.dataset.lotId);
  if (lotField.matches("select")) lotField.value = lot.dataset.lotId; else lotField.checked = true;
  report.elements.qty.value = lot.querySelector("[data-bad]").value;
  report.elements.what.value = lot.querySelector("[data-why-text]").value;
  report.elements.stay.checked = false;
  follow(report);
  report.dispatchEvent(new Event("input"));
  lendPhotos(lot, report);
  if (badge) signWith(report, badge); else report.requestSubmit();
}
