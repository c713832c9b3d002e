// A late component: how many come out of a unit and go in, and what the unit would then hold.
import { around } from "./panels.js";
import { refresh } from "./faces.js";

const form = document.querySelector("form[data-late]");

if (form) {
  const lines = [...form.querySelectorAll("[data-late-line]")];
  const counts = (root, way) => [...root.querySelectorAll(`[data-way="${way}"]`)];
  const number = (field) => Number(field.value) || 0;
  const sum = (root, way) => counts(root, way).reduce((n, f) => n + number(f), 0);

  function balance(line) {
    const then = Number(line.dataset.within) - sum(line, "out") + sum(line, "in");
    const off = then - Number(line.dataset.asked);
    if (!sum(line, "out") && !sum(line, "in")) return "";
    return off === 0 ? `then ${then}, as asked` : off < 0 ? `then ${then}: ${-off} short` : `then ${then}: ${off} too many`;
  }

  function changed() {
    lines.forEach((line) => { line.querySelector("[data-balance]").textContent = balance(line); });
    form.querySelectorAll("[data-why-face]").forEach((f) => { f.disabled = sum(form, "out") === 0; });
    refresh();
  }

  form.addEventListener("input", changed);

  // What the decision asked for is a suggestion: it gives way to the first digit.
  form.addEventListener("click", (e) => { if (e.target.matches("[data-way]")) e.target.select(); });

  around.sign = () => {
    const why = form.querySelector("[data-why-text]").value;
    const said = (way, before, after) => counts(form, way).filter(number).map((f) => `${before} ${number(f)} × ${f.dataset.name}${after(f)}`);
    const rows = [...said("out", "out:", () => `, ${why}`), ...said("in", "in:", (f) => ` from ${f.dataset.from}`)];
    document.querySelector("[data-summary]").replaceChildren(...(rows.length ? rows : ["nothing comes out and nothing goes in"]).map((text) => {
      const li = document.createElement("li");
      li.textContent = text;
      return li;
    }));
  };

  changed();
}
