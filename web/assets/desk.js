// The desk pages: print.
document.addEventListener("click", (e) => {
  if (e.target.closest("[data-print]")) print();
});
