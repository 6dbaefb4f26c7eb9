// Small helps on top of pages that are complete without them.

function element(tag, attributes = {}, ...children) {
  const made = document.createElement(tag);
  for (const [name, value] of Object.entries(attributes)) made.setAttribute(name, value);
  made.append(...children);
  return made;
}

// Colours: as the system, light or dark.
function bindColours() {
  const root = document.documentElement;
  const current = root.dataset.colours ?? "system";
  for (const input of document.querySelectorAll("input[name=colours]")) {
    input.checked = input.value === current;
    input.addEventListener("change", () => {
      if (input.value === "system") delete root.dataset.colours;
      else root.dataset.colours = input.value;
      try {
        localStorage.setItem("report-colours", input.value);
      } catch {
        // Storage is switched off: the choice holds for this page.
      }
    });
  }
  const box = document.querySelector(".colours");
  document.addEventListener("click", (event) => {
    if (box && !box.contains(event.target)) box.open = false;
  });
  box?.addEventListener("keydown", (event) => {
    if (event.key !== "Escape") return;
    box.open = false;
    box.querySelector("summary").focus();
  });
}

// A long list of pages starts where the reader is.
function showCurrent() {
  const nav = document.getElementById("site-nav");
  const current = nav?.querySelector("[aria-current]");
  if (current) nav.scrollTop = Math.max(0, current.offsetTop - nav.clientHeight / 2);
}

// One group of the contents is open at a time. On narrow screens the contents are a drawer beside the page.
function bindMenu() {
  const button = document.querySelector(".menu-button");
  const nav = document.getElementById("site-nav");
  if (!button || !nav) return;
  const groups = [...nav.querySelectorAll("details")];
  for (const group of groups) {
    group.querySelector("summary").addEventListener("click", () => {
      for (const other of groups) if (other !== group) other.open = false;
    });
  }
  const isOpen = () => nav.classList.contains("open");
  const show = (open) => {
    nav.classList.toggle("open", open);
    button.setAttribute("aria-expanded", String(open));
  };
  const close = () => {
    show(false);
    button.focus();
  };
  button.addEventListener("click", () => {
    if (isOpen()) return close();
    show(true);
    (nav.querySelector("[aria-current]") ?? nav.querySelector("a")).focus();
  });
  nav.querySelector(".nav-close").addEventListener("click", close);
  nav.addEventListener("keydown", (event) => {
    if (event.key === "Escape" && isOpen()) close();
  });
  nav.addEventListener("focusout", (event) => {
    if (isOpen() && event.relatedTarget && !nav.contains(event.relatedTarget)) show(false);
  });
  document.addEventListener("click", (event) => {
    if (isOpen() && !nav.contains(event.target) && !button.contains(event.target)) show(false);
  });
  addEventListener("blur", () => {
    if (document.activeElement?.tagName === "IFRAME") show(false);
  });
}

// A drawing that is wider than its box can be moved by keyboard too.
function fitDrawings() {
  for (const box of document.querySelectorAll(".drawing .paper")) {
    const wide = box.scrollWidth > box.clientWidth + 1;
    box.classList.toggle("fits", !wide);
    const caption = box.parentElement.querySelector("figcaption").textContent;
    const roles = { role: "region", tabindex: "0", "aria-label": caption };
    for (const [name, value] of Object.entries(roles)) {
      if (wide) box.setAttribute(name, value);
      else box.removeAttribute(name);
    }
  }
}

// The address of the map page may name a place: hand it on to the map.
function followAddress() {
  const frame = document.querySelector("iframe[data-follows-address]");
  if (!frame) return;
  const file = frame.getAttribute("src").split("#")[0];
  const follow = () => {
    if (location.hash && !location.hash.startsWith("#view:")) frame.src = file + location.hash;
  };
  addEventListener("hashchange", follow);
  follow();
}

// Print shows what is folded away on screen.
function openForPrint() {
  const folded = () => document.querySelectorAll("article details:not([open])");
  let opened = [];
  addEventListener("beforeprint", () => {
    opened = [...folded()];
    for (const details of opened) details.open = true;
  });
  addEventListener("afterprint", () => {
    for (const details of opened) details.open = false;
  });
}

bindColours();
bindMenu();
showCurrent();
fitDrawings();
addEventListener("resize", fitDrawings);
followAddress();
openForPrint();
