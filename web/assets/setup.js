// Setting a shop up: steps are ticked as choices change, the browser's time zone is proposed, and what was
// typed is there again when a page is left and come back to.

const draftOf = (form) => "setup-" + form.dataset.draft;

// Route: a step is proposed where all it asks was chosen. A step somebody ticked or unticked stays as it is.
function route(form) {
  const touched = new Set();
  const chosen = () => new Set([...form.querySelectorAll("[data-choice]:checked")].map((e) => e.dataset.choice));
  const asked = (has) => {
    const out = new Set(has);
    if (has.has("faces")) out.add("coat");
    if (has.has("assembly")) {
      out.delete("fold-first");
      out.delete("as-cut");
      if (!has.has("weld")) out.add("bolt");
    }
    if (out.has("fold-first")) out.add("fold");
    return out;
  };
  const words = (text) => text.split(" ").filter(Boolean);
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
  const drawn = form.querySelector("[data-walked]");
  let asking = 0, soon;
  const draw = async () => {
    const mine = ++asking;
    try {
      const body = new URLSearchParams(new FormData(form));
      const answer = await fetch(form.dataset.route, { method: "POST", body });
      if (answer.ok && !answer.redirected && mine === asking) drawn.innerHTML = await answer.text();
    } catch { /* out of touch: it is walked again before it is stored */ }
  };
  const drawSoon = () => {
    clearTimeout(soon);
    soon = setTimeout(draw, 250);
  };
  form.addEventListener("submit", () => clearTimeout(soon));
  const ofRoute = "[data-choice], [name=step], [name=cover], [name=outside], [name=inside], [name^='place.'], [name^='check']";
  form.addEventListener("change", (e) => {
    if (e.target.name === "step") touched.add(e.target.value);
    if (e.target.matches("[data-choice]")) {
      const has = chosen(), asks = asked(has);
      show(has);
      for (const box of form.querySelectorAll("[name=step]")) {
        const when = words(box.dataset.when);
        if (!touched.has(box.value)) {
          box.checked = when.length > 0 && when.every((c) => asks.has(c)) && !words(box.dataset.but).some((c) => asks.has(c));
        }
      }
    }
    if (e.target.matches(ofRoute)) drawSoon();
  });
  show(chosen());
  for (const part of form.querySelectorAll("details.fold")) {
    part.open ||= [...part.querySelectorAll("input:not([type=radio]):not([type=checkbox])")].some((e) => e.value);
  }
  if ([...form.elements].some((e) => e.value !== e.defaultValue && e.matches("input:not([type=radio]):not([type=checkbox])") || e.checked !== e.defaultChecked)) drawSoon();
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
// The first field that wants another look, or else what was said: a long page begins where something is to be done.
const wrong = [...document.querySelectorAll("[aria-invalid]")].find((e) => e.checkVisibility());
(wrong ?? document.querySelector("[data-said]"))?.focus();
wrong?.select?.();
