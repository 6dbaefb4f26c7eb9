// Runs before the page is drawn.

// The reader's choice of colours, so that no page flashes in the wrong ones.
try {
  const chosen = localStorage.getItem("report-colours");
  if (chosen === "light" || chosen === "dark") {
    document.documentElement.dataset.colours = chosen;
  }
} catch {
  // Storage is switched off: the system's colours stay.
}

// The theme binds actions to single letters, which gets in the way of speech input.
addEventListener("keydown", (event) => {
  const isLetter = event.key.length === 1 && !event.ctrlKey && !event.metaKey && !event.altKey;
  if (isLetter && !event.target.closest?.("input, textarea, select, [contenteditable]")) {
    event.stopImmediatePropagation();
  }
}, true);
