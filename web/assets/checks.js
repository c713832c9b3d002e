// Characteristics to be answered, wherever a page asks them: ticks, and readings that say at once whether they are inside.

const brief = (s) => (s.length > 36 ? `${s.slice(0, 34).trimEnd()}…` : s);

function judge(box) {
  const input = box.querySelector("[data-number]");
  const verdict = box.querySelector("[data-verdict]");
  const met = box.querySelector("[data-met]");
  const text = input.value.trim().replace(",", ".").replace("−", "-");
  const v = Number(text);
  if (text === "" || text === "-" || Number.isNaN(v)) {
    verdict.textContent = "";
    met.value = "";
    box.dataset.state = "";
    return;
  }
  const { lower, upper } = box.dataset;
  const inside = (lower === "" || v >= Number(lower)) && (upper === "" || v <= Number(upper));
  verdict.textContent = inside ? "inside" : "outside";
  met.value = String(inside);
  box.dataset.state = inside ? "inside" : "outside";
}

// Captured: the verdict comes before a form's big button says what is next.
document.addEventListener("input", (e) => {
  const box = e.target.closest("[data-measure]");
  if (box) judge(box);
}, true);

document.querySelectorAll("[data-measure]").forEach(judge);

/** The first field of a part of a page that may not stay empty: {say, act}, or null. */
export function lackingField(root) {
  const field = [...root.querySelectorAll("[data-needed]:not(:disabled)")].find((f) => !f.value.trim());
  return field ? { say: field.dataset.needed, act: () => field.focus() } : null;
}

/** What the checks in a part of a page still lack: {say, act}, or null. Outside is what is said and done of a reading that is. */
export function lackingChecks(root, outside) {
  const ticks = [...root.querySelectorAll("[data-tick]:not([data-optional]):not(:disabled)")].filter((t) => !t.checked);
  for (const box of root.querySelectorAll("[data-measure]")) {
    const input = box.querySelector("[data-number]");
    if (input.matches(":disabled")) continue;
    if (box.dataset.state === "outside") return outside ?? { say: "Outside: measure again", act: () => input.focus() };
    if (ticks.length) continue;
    const gauge = box.querySelector("[data-gauge]");
    if (input.value && gauge && !gauge.value) return { say: "Choose the gauge", act: () => gauge.focus() };
    if (!input.value && !("optional" in box.dataset)) return { say: `Measure: ${brief(box.dataset.short)}`, act: () => input.focus() };
  }
  if (!ticks.length) return null;
  const say = ticks.length === 1 ? "This check is met" : ticks.length === 2 ? "Both checks are met" : `All ${ticks.length} checks are met`;
  return { say, act: () => ticks.forEach((t) => { t.checked = true; }) };
}
