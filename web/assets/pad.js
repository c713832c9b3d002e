// Counting without a keyboard: a number pad that types into the number field last touched, minus and plus beside a
// field, and half and all of what there is. Real keys work as well.

let target = null;

const number = (field) => Number(field.value) || 0;

// The most a field may count; none where nothing says so.
const mostOf = (field) => Number(field?.dataset.most ?? field?.closest("[data-most]")?.dataset.most) || 0;

function changed(field) { field.dispatchEvent(new Event("input", { bubbles: true })); }

// A number that stands there selected is a suggestion: the first digit takes its place.
const suggested = (field) => field === document.activeElement && field.value !== "" && field.selectionStart === 0 && field.selectionEnd === field.value.length;

function type(field, key) {
  if (suggested(field)) field.value = "";
  if (key === "back") field.value = field.value.slice(0, -1);
  else if (key === "sign") field.value = field.value.startsWith("−") ? field.value.slice(1) : `−${field.value}`;
  else if (key === "." && field.value.includes(".")) return;
  else if (field.maxLength < 0 || field.value.length < field.maxLength) field.value += key;
  changed(field);
}

/** The first count in a part of a page that is of more than there are: {say, act}, or null. */
export function overCount(root) {
  const field = [...root.querySelectorAll("[data-number]:not(:disabled)")].find((f) => mostOf(f) && number(f) > mostOf(f));
  return field ? { say: `Only ${mostOf(field)} of these are there`, act: () => field.focus() } : null;
}

/** Sets how many are counted, as far as there are that many; none is said by nought only where a count is required. */
export function setCount(field, n) { field.value = Math.min(mostOf(field) || n, Math.max(0, n)) || (field.required ? "0" : ""); }

function take(field, share) {
  const most = mostOf(field);
  if (!most) return;
  setCount(field, share === "all" ? most : Math.ceil(most / 2));
  changed(field);
}

// The keys for all and half say of how many, and are idle where nothing is to be had of.
function label() {
  for (const pad of document.querySelectorAll(".pad.counts")) {
    const own = pad.closest("dialog, main")?.contains(target) ? mostOf(target) : 0;
    pad.querySelector("[data-all]").textContent = own ? `All ${own}` : "All";
  }
}

/** The number field the pad types into. */
export function aim(field) {
  target = field;
  document.querySelectorAll(".aimed").forEach((f) => f.classList.remove("aimed"));
  field?.classList.add("aimed");
  label();
}

document.addEventListener("focusin", (e) => { if (e.target.matches("[data-number]")) aim(e.target); });
document.addEventListener("input", label);
document.addEventListener("change", label);
document.addEventListener("pointerdown", (e) => { if (e.target.closest("[data-key]")) e.preventDefault(); });
document.addEventListener("click", (e) => {
  const key = e.target.closest("[data-key]");
  if (key) {
    const pad = key.closest("[data-pad]");
    const own = pad.dataset.for ? document.getElementById(pad.dataset.for) : target;
    if (!own) return;
    if (key.dataset.key === "half" || key.dataset.key === "all") take(own, key.dataset.key);
    else type(own, key.dataset.key);
    return;
  }
  const share = e.target.closest("[data-part-take]");
  if (share) take(share.closest("[data-part-row]").querySelector("[data-number]"), share.dataset.partTake);
  const step = e.target.closest(".stepper:not([data-stepper]) [data-step]");
  if (step) {
    const field = step.parentElement.querySelector("input");
    setCount(field, number(field) + Number(step.dataset.step));
    changed(field);
  }
});

// A field that has the focus since before this was loaded.
if (document.activeElement?.matches("[data-number]")) aim(document.activeElement);
