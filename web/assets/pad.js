// The number pad: keys that type into the number field last touched. Real keys work as well.

let target = null;

function type(field, key) {
  if (key === "back") field.value = field.value.slice(0, -1);
  else if (key === "sign") field.value = field.value.startsWith("−") ? field.value.slice(1) : `−${field.value}`;
  else if (key === "." && field.value.includes(".")) return;
  else if (field.maxLength < 0 || field.value.length < field.maxLength) field.value += key;
  field.dispatchEvent(new Event("input", { bubbles: true }));
}

/** The number field the pad types into. */
export function aim(field) {
  target = field;
  
  document.querySelectorAll(".aimed").forEach((f) => f.classList.remove("aimed"));
  field?.classList.add("aimed");
}

document.addEventListener("focusin", (e) => { if (e.target.matches("[data-number]")) aim(e.target); });
document.addEventListener("pointerdown", (e) => { if (e.target.closest("[data-key]")) e.preventDefault(); });
document.addEventListener("click", (e) => {
  const key = e.target.closest("[data-key]");
  if (!key) return;
  const pad = key.closest("[data-pad]");
  const own = pad.dataset.for ? document.getElementById(pad.dataset.for) : target;
  if (own) type(own, key.dataset.key);
});

// A field that has the focus since before this was loaded.
if (document.activeElement?.matches("[data-number]")) aim(document.activeElement);
