(function () {
  "use strict";
  var root = document.documentElement;
  root.classList.add("js");
  var all = function (query, within) {
    return Array.prototype.slice.call((within || document).querySelectorAll(query));
  };

  // one borehole chosen anywhere is marked everywhere
  var status = document.querySelector(".chosen");
  var chosen = null;
  function choose(place) {
    chosen = chosen === place ? null : place;
    all("[data-hole]").forEach(function (one) {
      var is = one.getAttribute("data-hole") === chosen;
      one.classList.toggle("is-chosen", is);
      if (one.hasAttribute("aria-pressed")) one.setAttribute("aria-pressed", String(is));
    });
    if (status) tell(chosen);
  }
  function tell(place) {
    if (place === null) {
      status.textContent = "No borehole chosen.";
      return;
    }
    var hole = document.querySelector('.plan .hole[data-hole="' + place + '"]');
    var name = hole ? hole.getAttribute("data-name") : "";
    var rows = all('#tests tr[data-hole="' + place + '"]').length;
    var profile = document.getElementById("hole-" + place);
    status.textContent = name + " chosen: " + rows + " test row(s). ";
    if (!profile) return;
    var link = document.createElement("a");
    link.href = "#hole-" + place;
    link.textContent = "Go to its profile";
    link.addEventListener("click", function () {
      var fold = profile.closest("details");
      if (fold) fold.open = true;
    });
    status.appendChild(link);
  }
  all(".hole").forEach(function (one) {
    var place = one.getAttribute("data-hole");
    one.addEventListener("click", function () { choose(place); });
    one.addEventListener("keydown", function (event) {
      if (event.key !== "Enter" && event.key !== " ") return;
      event.preventDefault();
      choose(place);
    });
  });

  // what maps, sections and profiles show
  all('input[name="quantity"]').forEach(function (one) {
    one.addEventListener("change", function () {
      all("[data-quantity]").forEach(function (part) {
        part.classList.toggle("off", part.getAttribute("data-quantity") !== one.value);
      });
    });
  });

  // tables: sort by a heading, filter by words
  function key(row, column) {
    var cell = row.cells[column];
    var number = cell.getAttribute("data-v");
    return number === null ? cell.textContent.trim().toLowerCase() : parseFloat(number);
  }
  function compare(a, b) {
    if (a === b) return 0;
    if (a === "") return 1;
    if (b === "") return -1;
    if (typeof a === typeof b && typeof a === "number") return a - b;
    return String(a).localeCompare(String(b), "en", { numeric: true });
  }
  function sort(table, heading) {
    var up = heading.getAttribute("aria-sort") !== "ascending";
    var column = heading.cellIndex;
    var rows = all("tbody tr", table).map(function (row, place) {
      return { row: row, key: key(row, column), place: place };
    });
    rows.sort(function (a, b) {
      var order = compare(a.key, b.key);
      if (a.key === "" || b.key === "") return order || a.place - b.place;
      return (up ? order : -order) || a.place - b.place;
    });
    var body = table.tBodies[0];
    rows.forEach(function (one) { body.appendChild(one.row); });
    all("th", table).forEach(function (one) { one.setAttribute("aria-sort", "none"); });
    heading.setAttribute("aria-sort", up ? "ascending" : "descending");
  }
  all("table").forEach(function (table) {
    all("th button", table).forEach(function (button) {
      button.addEventListener("click", function () { sort(table, button.parentNode); });
    });
  });
  all(".table").forEach(function (box) {
    var input = box.querySelector("input");
    if (!input) return;
    var rows = all("tbody tr", box);
    var texts = null;
    var count = box.querySelector("[role=status]");
    input.addEventListener("input", function () {
      texts = texts || rows.map(function (row) { return row.textContent.toLowerCase(); });
      var wanted = input.value.toLowerCase().split(/\s+/).filter(Boolean);
      var shown = 0;
      rows.forEach(function (row, place) {
        var fits = wanted.every(function (word) { return texts[place].indexOf(word) >= 0; });
        row.hidden = !fits;
        if (fits) shown += 1;
      });
      count.textContent = wanted.length ? shown + " of " + rows.length + " rows" : "";
    });
  });

  window.addEventListener("beforeprint", function () {
    all("details").forEach(function (one) { one.open = true; });
  });
})();
