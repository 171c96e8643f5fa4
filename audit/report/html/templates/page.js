"use strict";
(() => {
  const byId = (id) => document.getElementById(id);
  const list = byId("list");
  const form = document.querySelector(".controls");

  // A link to a fault opens it; so does an address that already names one.
  const unfold = () => {
    const name = location.hash.slice(1);
    const target = name && byId(name);
    if (!target) return;
    const song = target.closest(".song");
    if (song && song.hidden) {
      byId("find").value = "";
      byId("which").value = "all";
      choose();
    }
    if (target.tagName === "DETAILS") {
      target.open = true;
      target.querySelector("summary").focus({ preventScroll: true });
    }
    target.scrollIntoView({ block: "start" });
  };

  // A stem's shape is drawn when its list is opened: one byte a step, half decibels, 240 is full scale.
  const draw = (shape) => {
    const bytes = Uint8Array.from(atob(shape.dataset.levels), (letter) => letter.charCodeAt(0));
    const wide = Number(shape.dataset.wide) / bytes.length;
    let path = "M0 100";
    bytes.forEach((code, at) => {
      const level = code === 0 ? -60 : (code - 240) / 2;
      const top = Math.min(100, Math.max(0, (-level / 60) * 100));
      path += `V${top.toFixed(0)}H${((at + 1) * wide).toFixed(1)}`;
    });
    const drawn = document.createElementNS("http://www.w3.org/2000/svg", "path");
    drawn.setAttribute("class", "level");
    drawn.setAttribute("d", `${path}V100Z`);
    shape.append(drawn);
    delete shape.dataset.levels;
  };
  document.addEventListener("toggle", (event) => {
    if (event.target.open) event.target.querySelectorAll("[data-levels]").forEach(draw);
  }, true);

  window.addEventListener("hashchange", unfold);
  document.addEventListener("click", (event) => {
    const link = event.target.closest("a[href^='#']");
    if (link && link.getAttribute("href") === location.hash) unfold();
  });

  if (!form || !list) return;
  const songs = [...list.children];
  const rows = new Map([...document.querySelectorAll("tr[data-song]")].map((row) => [row.dataset.song, row]));
  const first = new Map(songs.map((song, at) => [song, at]));
  const keys = {
    fault: (a, b) => first.get(a) - first.get(b),
    show: (a, b) => a.dataset.number - b.dataset.number,
    name: (a, b) => a.querySelector("h3").textContent.localeCompare(b.querySelector("h3").textContent, "en", { numeric: true }),
    length: (a, b) => b.dataset.length - a.dataset.length,
    loudness: (a, b) => b.dataset.lufs - a.dataset.lufs,
  };
  const wanted = {
    all: () => true,
    fault: (verdict) => verdict !== "clear",
    error: (verdict) => verdict === "error",
    clear: (verdict) => verdict === "clear",
  };
  function choose() {
    const words = byId("find").value.toLowerCase().split(/\s+/).filter(Boolean);
    const fits = wanted[byId("which").value];
    let shown = 0;
    for (const song of songs) {
      const here = fits(song.dataset.verdict) && words.every((word) => song.dataset.search.includes(word));
      song.hidden = !here;
      rows.get(song.id).hidden = !here;
      shown += here;
    }
    byId("shown").textContent = shown === songs.length ? "" : `${shown} of ${songs.length} songs`;
  }
  const arrange = () => {
    const sorted = [...songs].sort(keys[byId("order").value]);
    list.append(...sorted);
    const body = rows.values().next().value.parentNode;
    body.append(...sorted.map((song) => rows.get(song.id)));
  };
  form.hidden = false;
  form.addEventListener("submit", (event) => event.preventDefault());
  byId("find").addEventListener("input", choose);
  byId("which").addEventListener("change", choose);
  byId("order").addEventListener("change", arrange);
  byId("open")?.addEventListener("click", () => {
    const faults = [...list.querySelectorAll(".fault > details")];
    const open = faults.some((fault) => !fault.open);
    faults.forEach((fault) => { fault.open = open; });
    byId("open").textContent = open ? "Close all faults" : "Open all faults";
  });
  unfold();
})();
