// The desk pages: print; the form of a disposition, whose fields depend on the choice; the day of a gauge's last good check.

document.addEventListener("click", (e) => {
  if (e.target.closest("[data-print]")) print();
});

function fill(select) {
  const form = select.form, chosen = select.selectedOptions[0];
  if (!chosen) return;
  for (const hidden of form.querySelectorAll("[data-fill]")) hidden.value = chosen.dataset[hidden.dataset.fill];
  const changes = form.querySelector("fieldset[data-joins]");
  if (changes) changes.disabled = changes.hidden = !("joins" in chosen.dataset);
}

// Only what belongs to the choice is shown, and sent.
function choose(form) {
  const chosen = form.elements.disposition.value;
  for (const block of form.querySelectorAll("[data-for]")) {
    block.hidden = block.dataset.for !== chosen;
    if (block.matches("fieldset")) block.disabled = block.hidden;
  }
  form.dataset.sign = form.querySelector("[name=disposition]:checked")?.dataset.signers ?? "1";
}

document.addEventListener("change", (e) => {
  if (e.target.matches("[data-fills]")) fill(e.target);
  if (e.target.name === "disposition") choose(e.target.form);
  if (e.target.matches("[data-since-day]")) {
    const day = e.target.valueAsDate;
    e.target.form.elements.since.value = day ? day.toISOString() : "";
  }
});
document.querySelectorAll("[data-fills]").forEach(fill);
