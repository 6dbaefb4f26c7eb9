// Looks for newer pages while this one is looked at; a page that is hidden asks for nothing.
{
  const panel = document.querySelector(".preview-panel");
  const state = panel.querySelector(".preview-state");
  const kept = "preview-findings-open";
  let stream = null;
  let asked = 0;

  const say = (text) => {
    if (state.textContent !== text) state.textContent = text;
  };

  // Whether the list is open outlives the page.
  const bindList = () => {
    const list = panel.querySelector("details");
    if (!list) return;
    try {
      const before = sessionStorage.getItem(kept);
      list.open = before ? before === "yes" : Boolean(document.querySelector(".preview-notice"));
      list.addEventListener("toggle", () => sessionStorage.setItem(kept, list.open ? "yes" : "no"));
    } catch {
      // Storage is switched off: the list begins closed.
    }
  };

  // A page whose content differs is loaded again; else the panel alone is renewed.
  const look = async () => {
    const turn = ++asked;
    const wish = new URLSearchParams({ at: panel.dataset.at, good: panel.dataset.good });
    const answer = await fetch(`/-preview/panel?${wish}`);
    if (!answer.ok) return;
    const text = await answer.text();
    if (turn !== asked) return;
    const other = new DOMParser().parseFromString(text, "text/html").querySelector(".preview-panel");
    if (other.dataset.mark !== panel.dataset.mark || other.dataset.good !== panel.dataset.good) {
      location.reload();
      return;
    }
    panel.dataset.number = other.dataset.number;
    say(other.querySelector(".preview-state").textContent);
    panel.querySelector(".preview-body").replaceWith(other.querySelector(".preview-body"));
    bindList();
  };

  const stop = () => {
    stream?.close();
    stream = null;
  };
  const start = () => {
    if (stream) return;
    stream = new EventSource(`/-preview/events?after=${encodeURIComponent(panel.dataset.number)}`);
    let lost = false;
    stream.addEventListener("message", () => look().catch(() => {}));
    stream.addEventListener("error", () => {
      lost = true;
      say("The preview has stopped or cannot be reached.");
    });
    stream.addEventListener("open", () => {
      if (lost) look().catch(() => {});
      lost = false;
    });
  };
  const follow = () => (document.visibilityState === "visible" ? start() : stop());

  bindList();
  document.addEventListener("visibilitychange", follow);
  addEventListener("pagehide", stop);
  addEventListener("pageshow", follow);
  follow();
}
