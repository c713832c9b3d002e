// Copies a badge's text, where the browser lets a page do so.
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
