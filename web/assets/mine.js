// A consignment received on a phone: numbers by minus and plus, what is fewer or damaged.
import { around } from "./panels.js";

const part = (root, name) => root.querySelector(`[data-part="${name}"]`);

// Numbers

function settle(field) {
  const n = Math.trunc(Number(field.value));
  const least = Number(field.dataset.least ?? 0);
  field.value = Number.isFinite(n) ? Math.max(least, Math.min(n, Number(field.dataset.most))) : least;
  field.dispatchEvent(new Event("input", { bubbles: true }));
}

document.addEventListener("click", (e) => {
  const step = e.target.closest("[data-step]");
  if (!step) return;
  const field = step.closest("[data-stepper]").querySelector("input");
  field.value = (Number(field.value) || 0) + Number(step.dataset.step);
  settle(field);
});
document.addEventListener("change", (e) => { if (e.target.closest("[data-stepper]")) settle(e.target); });

// What a box brought

const box = document.querySelector("form[data-box]");
const found = (li) => Number(li.querySelector("[name$='.found']").value);
const damaged = (li) => Number(li.querySelector("[name$='.damaged']").value);

function told() {
  let other = false;
  for (const li of box.querySelectorAll("[data-counted]")) {
    const bad = damaged(li);
    li.querySelector("[data-damage]").hidden = bad === 0;
    li.querySelector("[data-says]").textContent = bad > found(li) ? `${bad} can't be damaged of ${found(li)} that came.` : "";
    other ||= bad > 0 || found(li) < Number(li.dataset.listed);
  }
  const sign = box.querySelector("[data-as]");
  sign.textContent = other ? "Sign: came as counted" : sign.dataset.as;
}

function boxReady() {
  for (const li of box.querySelectorAll("[data-counted]")) {
    const why = li.querySelector("[name$='.why']");
    const says = li.querySelector("[data-says]");
    if (damaged(li) > found(li)) { li.querySelector("details").open = true; li.querySelector("[name$='.damaged']").focus(); return false; }
    if (damaged(li) > 0 && !why.value.trim()) {
      says.textContent = "Say what is wrong with the damaged ones.";
      li.querySelector("details").open = true;
      why.focus();
      return false;
    }
  }
  return true;
}

if (box) {
  box.addEventListener("input", told);
  told();
}

// Boxes that came as listed, ticked one by one: none ticked would stand for all of them.

const ticks = document.querySelector("form[data-ticks]");

function ticked() {
  const some = ticks.querySelector("input:checked") !== null;
  part(ticks, "none-ticked").textContent = some ? "" : "Tick each box that came whole and as listed; open the others and count them.";
  return some;
}

ticks?.addEventListener("input", () => { part(ticks, "none-ticked").textContent = ""; });

const before = around.before;
around.before = (form) => {
  if (form === box) return boxReady();
  return form === ticks ? ticked() : before(form);
};
