// The demo's desk: copies a badge's text, where the browser lets a page do so,
// and keeps in this tab whose badge and PIN the visitor has in hand.
if (navigator.clipboard) {
  for (const button of document.querySelectorAll("button[data-copy]")) {
    const said = button.textContent;
    button.hidden = false;
    button.addEventListener("click", async () => {
      try {
        await navigator.clipboard.writeText(document.getElementById(button.dataset.copy).textContent);
        button.textContent = "Copied";
      } catch {
        button.textContent = "Mark and copy it yourself";
      }
      setTimeout(() => { button.textContent = said; }, 2000);
    });
  }
}

document.addEventListener("submit", (e) => {
  const chosen = e.target.querySelector("select[name=person]")?.selectedOptions[0] ?? e.target;
  if (chosen.dataset.name === undefined) return;
  const { name, badge, pin } = chosen.dataset;
  try {
    if (badge) sessionStorage.setItem("demo-hand", JSON.stringify({ name, badge, pin }));
    else sessionStorage.removeItem("demo-hand");
  } catch { /* the badge is then copied by hand */ }
});
