// Goods in: what is asked follows what is taken in.
import { refresh } from "./faces.js";

const item = document.querySelector("[data-item]");

function chosen() {
  const [name, rev] = item.value.split("@");
  const { kind = "metal", checks = "" } = item.selectedOptions[0]?.dataset ?? {};
  document.querySelector("[data-item-id]").value = name ?? "";
  document.querySelector("[data-item-rev]").value = rev ?? "";
  document.querySelectorAll("[data-of]").forEach((e) => {
    e.hidden = e.dataset.of !== kind;
    if (e.matches("fieldset")) e.disabled = e.hidden;
  });
  document.querySelectorAll("[data-checks]:is(fieldset)").forEach((f) => { f.disabled = f.dataset.checks !== checks; });
  document.querySelectorAll("[data-what]").forEach((e) => { e.textContent = item.selectedOptions[0]?.dataset.name ?? ""; });
  refresh();
}

// The count stands at one; whoever touches it means another, and types it afresh.
const count = document.querySelector("[name=qty]");
count.addEventListener("focus", () => { if (count.value === count.defaultValue) count.value = ""; });
count.addEventListener("blur", () => { if (!count.value) count.value = count.defaultValue; });

item.addEventListener("change", chosen);
chosen();
