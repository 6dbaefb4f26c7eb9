// The camera reads a label where the browser can; elsewhere nothing is offered, and the text is typed.

function canScan() {
  return "BarcodeDetector" in window && Boolean(navigator.mediaDevices && navigator.mediaDevices.getUserMedia);
}

// A button that scans one label and hands over its identity.
function scanButton(words, found) {
  if (!canScan()) return null;
  const place = el("div", { class: "scan" });
  const open = button(words, () => scan(place, found), { class: "quiet" });
  return el("div", {}, open, place);
}

async function scan(place, found) {
  let stream = null;
  const video = el("video", { muted: true, playsinline: true, "aria-label": "Camera image" });
  const end = () => {
    if (stream) stream.getTracks().forEach((track) => track.stop());
    place.replaceChildren();
  };
  try {
    stream = await navigator.mediaDevices.getUserMedia({ video: { facingMode: "environment" } });
    video.srcObject = stream;
    place.replaceChildren(video, button("Stop the camera", end));
    await video.play();
    const read = await firstLabel(video, place);
    end();
    if (read) found(read);
  } catch {
    end();
    say("The camera is not available to this page. Enter the text of the label.");
  }
}

async function firstLabel(video, place) {
  const detector = new BarcodeDetector();
  while (place.contains(video)) {
    for (const code of await detector.detect(video)) {
      const identity = readLabel(code.rawValue);
      if (identity) return identity;
      say("The check characters of the scanned code do not match. Move the camera closer.");
    }
    await new Promise((next) => { setTimeout(next, 200); });
  }
  return "";
}
