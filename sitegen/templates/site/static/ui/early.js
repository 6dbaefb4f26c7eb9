// Runs before the page is drawn.
document.documentElement.classList.replace("no-js", "js");

// The reader's choice of colours, so that no page flashes in the wrong ones.
try {
  const chosen = localStorage.getItem("report-colours");
  if (chosen === "light" || chosen === "dark") {
    document.documentElement.dataset.colours = chosen;
  }
} catch {
  // Storage is switched off: the system's colours stay.
}
