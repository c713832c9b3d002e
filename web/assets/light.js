// Day or night colours, as this tablet last chose. Loaded before the page is drawn, so that it never flashes.
(() => {
  const root = document.documentElement;
  let choice = null;
  try { choice = localStorage.getItem("light"); } catch { /* storage is off: follow the system */ }
  if (choice === "day" || choice === "night") root.dataset.light = choice;
})();
