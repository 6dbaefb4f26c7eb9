(function () {
  "use strict";
  var form = document.getElementById("search");
  var field = document.getElementById("words");
  var older = document.getElementById("older");
  var count = document.getElementById("count");
  var projects = Array.prototype.slice.call(document.querySelectorAll("tbody"));
  var marks = Array.prototype.slice.call(document.querySelectorAll("[data-sites]"));
  function plain(text) { return text.normalize("NFKD").replace(/[\u0300-\u036f]/g, "").toLowerCase(); }
  var texts = projects.map(function (one) { return plain(one.textContent); });
  function show() {
    var wanted = plain(field.value).split(/\s+/).filter(Boolean);
    var seen = {};
    var shown = 0;
    projects.forEach(function (one, at) {
      var fits = wanted.every(function (word) { return texts[at].indexOf(word) !== -1; });
      one.hidden = !fits;
      if (fits) { shown += 1; seen[one.dataset.number] = true; }
    });
    Array.prototype.forEach.call(document.querySelectorAll("tr.older"), function (row) { row.hidden = !older.checked; });
    marks.forEach(function (mark) {
      var here = mark.getAttribute("data-sites").split(" ").some(function (number) { return seen[number]; });
      if (here) { mark.removeAttribute("hidden"); } else { mark.setAttribute("hidden", ""); }
    });
    count.textContent = shown + " of " + projects.length + (projects.length === 1 ? " survey" : " surveys") + " shown";
  }
  form.addEventListener("submit", function (event) { event.preventDefault(); });
  field.addEventListener("input", show);
  older.addEventListener("change", show);
  form.hidden = projects.length === 0;
  if (projects.length) { show(); }
}());
