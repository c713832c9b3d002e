// What is usual at a station, kept by this tablet: the gauge used last for each kind of reading, and the belt or disc
// that was mounted. Nothing secret is kept, and nothing that the server does not judge again.

const key = "usual";
const station = document.querySelector("[data-station]")?.dataset.station;

function kept() {
  try { return JSON.parse(localStorage.getItem(key))?.[station] ?? {}; } catch { return {}; }
}

function keep(now) {
  try {
    const all = JSON.parse(localStorage.getItem(key)) ?? {};
    all[station] = now;
    localStorage.setItem(key, JSON.stringify(all));
  } catch { /* chosen again next time */ }
}

/** Chooses what was used last; open shows the field for another belt or disc and returns it. */
export function usual(open) {
  const { gauges = {}, abrasive } = kept();
  document.querySelectorAll("[data-gauge]").forEach((select) => {
    const last = [...select.options].find((o) => o.value && o.value === gauges[select.dataset.gauge]);
    if (last && !("overdue" in last.dataset)) select.value = last.value;
  });
  if (!abrasive) return;
  document.querySelectorAll("[data-mounted]").forEach((box) => {
    const field = box.querySelector("[data-abrasive]");
    if (!field.value && box.dataset.mounted !== abrasive) open(box).value = abrasive;
  });
  document.querySelectorAll("dialog [data-abrasive]:not([form])").forEach((field) => { field.value ||= abrasive; });
}

/** Keeps what a form was sent with. */
export function remember(form) {
  if (!station) return;
  const now = kept();
  for (const select of form.querySelectorAll("[data-gauge]")) {
    const reading = select.closest("[data-measure]").querySelector("[data-number]");
    if (select.value && reading.value) now.gauges = { ...now.gauges, [select.dataset.gauge]: select.value };
  }
  const field = form.elements.namedItem("abrasive");
  if (field) now.abrasive = field.value || undefined;
  keep(now);
}
