// Setting a shop up: steps are ticked as choices change, the browser's time zone is proposed, and what was
// typed is there again when a page is left and come back to.

const draftOf = (form) => "setup-" + form.dataset.draft;

// Route: a step is proposed where all it asks was chosen. A step somebody ticked or unticked stays as it is.
function route(form) {
  const touched = new Set();
  const chosen = () => {
    const has = new Set([...form.querySelectorAll("[data-choice]:checked")].map((e) => e.dataset.choice));
    if (has.has("assembly") && !has.has("weld")) has.add("bolt");
    return has;
  };
  const show = (has) => {
    for (const part of form.querySelectorAll("[data-only]")) {
      const on = has.has(part.dataset.only);
      part.hidden = !on;
      if (part.matches("fieldset")) part.disabled = !on;
    }
    const colour = form.elements.colour;
    colour.required = has.has("coat");
    colour.disabled = !has.has("coat");
  };
  form.addEventListener("change", (e) => {
    if (e.target.name === "step") touched.add(e.target.value);
    if (!e.target.matches("[data-choice]")) return;
    const has = chosen();
    show(has);
    for (const box of form.querySelectorAll("[name=step]")) {
      const asks = box.dataset.when.split(" ").filter(Boolean);
      if (!touched.has(box.value)) box.checked = asks.length > 0 && asks.every((c) => has.has(c));
    }
  });
  show(chosen());
}

// Sheet: the fields of a new material are there only where the material is new.
function sheet(form) {
  const list = form.querySelector("[data-material]");
  const part = form.querySelector("[data-only=new]");
  const show = () => { part.hidden = part.disabled = !!list?.value; };
  list?.addEventListener("change", show);
  show();
}

function zone(field) {
  field.value ||= Intl.DateTimeFormat().resolvedOptions().timeZone || "";
  for (const name of Intl.supportedValuesOf?.("timeZone") ?? []) {
    field.list.append(new Option(name, name));
  }
}

// Drafts last as long as the window. A form the server showed again has its own values.
function keep(form) {
  const fields = () => [...form.elements].filter((e) => e.name && e.type !== "hidden" && e.type !== "submit");
  const isTick = (e) => e.type === "checkbox" || e.type === "radio";
  try {
    const draft = JSON.parse(sessionStorage.getItem(draftOf(form)) ?? "null");
    if (draft && !document.querySelector("[data-said], .said")) {
      for (const e of fields()) {
        const key = isTick(e) ? `${e.name}=${e.value}` : e.name;
        if (key in draft) isTick(e) ? (e.checked = draft[key]) : (e.value = draft[key]);
      }
    }
    form.addEventListener("input", () => {
      const values = Object.fromEntries(fields().map((e) => isTick(e) ? [`${e.name}=${e.value}`, e.checked] : [e.name, e.value]));
      sessionStorage.setItem(draftOf(form), JSON.stringify(values));
    });
  } catch { /* no storage: the page keeps what it shows */ }
}

const kept = new URLSearchParams(location.search).get("kept");
if (kept) {
  for (const name of kept === "stations" ? ["stations", "names"] : [kept]) {
    try { sessionStorage.removeItem("setup-" + name); } catch { /* nothing was kept */ }
  }
}
document.querySelectorAll("form[data-draft]").forEach(keep);
document.querySelectorAll("form[data-route]").forEach(route);
document.querySelectorAll("form[data-sheet]").forEach(sheet);
document.querySelectorAll("[data-zone]").forEach(zone);
document.querySelector("[data-said]")?.focus();
