// The fitters' page: so many of a row are signed. A row may stand for several lots of like parts; the count is dealt
// out over them in the order they came.
import { around } from "./panels.js";

const form = document.querySelector("form[data-site]");

function deal(row) {
  const field = row.querySelector("[data-count]");
  const most = Number(field.dataset.most);
  let left = Math.min(Number(field.value) || 0, most);
  for (const lot of row.querySelectorAll("[data-most][type=hidden]")) {
    const n = Math.min(left, Number(lot.dataset.most));
    lot.value = n || "";
    left -= n;
  }
  const wrong = field.value !== "" && !(Number.isInteger(Number(field.value)) && Number(field.value) <= most);
  row.classList.toggle("wrong", wrong);
  row.querySelector("[data-says]").textContent = wrong ? `there are ${most}` : "";
  return wrong;
}

function all(row) {
  const field = row.querySelector("[data-count]");
  field.value = field.dataset.most;
  field.dispatchEvent(new Event("input", { bubbles: true }));
}

if (form) {
  const rows = [...form.querySelectorAll("[data-row]")];
  const counted = () => rows.filter((r) => Number(r.querySelector("[data-count]").value) > 0);

  form.addEventListener("input", (e) => {
    const row = e.target.closest("[data-row]");
    if (row) deal(row);
    form.querySelector("[data-none]").hidden = true;
  });
  form.addEventListener("click", (e) => {
    if (e.target.closest("[data-all]")) all(e.target.closest("[data-row]"));
    if (e.target.closest("[data-whole]")) rows.forEach(all);
  });
  rows.forEach(deal); // what the browser kept over a reload

  // Where the number pad is shown, the device's own keyboard would only hide the page.
  if (document.querySelector(".site-pad")?.checkVisibility()) {
    for (const field of form.querySelectorAll("[data-count]")) field.inputMode = "none";
  }

  around.before = (f) => {
    if (f !== form) return true;
    const wrong = rows.filter(deal);
    const none = form.querySelector("[data-none]");
    none.hidden = wrong.length > 0 || counted().length > 0;
    if (wrong.length) wrong[0].querySelector("[data-count]").focus();
    return wrong.length === 0 && counted().length > 0;
  };
  around.sign = () => {
    const list = document.querySelector("[data-signing]");
    list.replaceChildren(...counted().map((r) => {
      const line = document.createElement("li");
      line.textContent = `${r.querySelector("[data-count]").value} of ${r.dataset.name}`;
      return line;
    }));
  };
  around.next = (f, answer) => {
    if (f !== form || !f.dataset.back) return null;
    const pallet = answer.events?.[0]?.pallets?.[0];
    return pallet ? `${f.dataset.back}&back=${pallet}` : null;
  };
}
