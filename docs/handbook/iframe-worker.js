// Browsers refuse to start a web worker from a file:// page, and search runs in one.
// There, the worker's script runs in a hidden frame instead, and messages are passed
// between the page and the frame by hand.
if (location.protocol === "file:") {
  window.Worker = class extends EventTarget {
    constructor(address) {
      super();
      const script = document.createElement("script");
      script.src = new URL(address, location.href).href;
      this.frame = document.createElement("iframe");
      this.frame.hidden = true;
      this.frame.title = "Search";
      this.frame.srcdoc = `<!doctype html><title>Search</title>${script.outerHTML}`;
      this.started = new Promise((resolve) => {
        this.frame.addEventListener("load", () => resolve(this.frame.contentWindow), { once: true });
      });
      this.started.then((inner) => {
        inner.postMessage = (data) => this.dispatchEvent(new MessageEvent("message", { data }));
      });
      document.body.append(this.frame);
    }

    postMessage(data) {
      this.started.then((inner) => inner.dispatchEvent(new inner.MessageEvent("message", { data })));
    }

    terminate() {
      this.frame.remove();
    }
  };
}
