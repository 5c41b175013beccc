// Moving on the map: pointer, touch and arrow keys; one question at a time, the newest place wins.
"use strict";

const waiting = document.querySelector("[data-load]");
if (waiting) {
  fetch(waiting.dataset.load + location.search, { headers: { "X-Part": "1" } })
    .then(() => location.reload())
    .catch(() => setTimeout(() => location.reload(), 1500));
  const told = waiting.querySelector("[data-pace]");
  if (told) setInterval(async () => {
    const pace = await (await fetch(at + "/pace")).json();
    if (pace.left_s === null) return;
    Object.assign(waiting.querySelector("progress"), { max: pace.many, value: pace.done });
    told.textContent = `${pace.done.toLocaleString("en")} of ${pace.many.toLocaleString("en")} arrows weighed; about ${Math.ceil(pace.left_s)} s more.`;
  }, 500);
}

const walk = document.querySelector("[data-walk]");
if (walk) {
  const plot = walk.querySelector("[data-plot]");
  const panel = walk.querySelector(".panel");
  const said = walk.querySelector("[data-said]");
  const form = walk.querySelector(".steer");
  // by id: a form's own "length" is how many controls it has
  const fields = { shaft: document.getElementById("steer-shaft"), reach: document.getElementById("steer-length"), front: document.getElementById("steer-front") };
  const map = plot.querySelector("svg.map"), d = map.dataset;
  const edge = walk.dataset;
  const here = { shaft: edge.shaft, length: Number(edge.length), front: Number(edge.front) };
  const kept = { shaft: edge.keptShaft, length: Number(edge.keptLength), front: Number(edge.keptFront) };
  let asking = false, again = false;

  const between = (value, low, high) => Math.min(Math.max(value, Number(low)), Number(high));
  const address = (place, before) => {
    const query = new URLSearchParams();
    for (const [name, value] of Object.entries(place)) query.set(before + name, value);
    return query.toString();
  };

  function draw() {
    const x = Number(d.left) + (here.length - d.lengthFrom) / (d.lengthTo - d.lengthFrom) * (d.right - d.left);
    const y = Number(d.bottom) + (here.front - d.frontFrom) / (d.frontTo - d.frontFrom) * (d.top - d.bottom);
    map.querySelectorAll(".here, .cross-lines").forEach((one) => one.setAttribute("transform", `translate(${x} ${y})`));
    if (document.activeElement !== fields.reach) fields.reach.value = +here.length.toFixed(3);
    if (document.activeElement !== fields.front) fields.front.value = +here.front.toFixed(1);
  }

  function move(length, front) {
    here.length = between(length, edge.shortest, edge.full);
    here.front = between(front, edge.lightest, edge.heaviest);
    draw();
    ask();
  }

  async function ask() {
    if (asking) { again = true; return; }
    asking = true;
    panel.setAttribute("aria-busy", "true");
    try {
      const answer = await fetch(at + "/look?" + address(here, "") + "&" + address(kept, "kept_"));
      if (answer.status === 409 || answer.status === 422) { location.reload(); return; }
      const found = await answer.json();
      if (found.revision !== edge.revision) { location.search = address(here, ""); return; }
      // made and escaped by this page's own server
      panel.querySelector("[data-here]").innerHTML = found.html;
      for (const [to, of] of [["[data-line-title]", "[data-title]"], ["[data-line-verdict]", ".verdict"]]) walk.querySelector(to).textContent = panel.querySelector(of).textContent;
      if (!again) said.textContent = panel.querySelector("[data-title]").textContent + ". " + panel.querySelector(".verdict").textContent;
    } catch { said.textContent = "The page's server does not answer. Is it still running?"; }
    asking = false;
    if (again) { again = false; ask(); } else {
      panel.removeAttribute("aria-busy");
      history.replaceState(null, "", at + "/?" + address(here, "") + "&" + address(kept, "kept_"));
    }
  }

  function pointed(event) {
    const box = map.getBoundingClientRect(), view = map.viewBox.baseVal;
    const x = (event.clientX - box.left) / box.width * view.width;
    const y = (event.clientY - box.top) / box.height * view.height;
    const length = Number(d.lengthFrom) + (x - d.left) / (d.right - d.left) * (d.lengthTo - d.lengthFrom);
    const front = Number(d.frontFrom) + (y - d.bottom) / (d.top - d.bottom) * (d.frontTo - d.frontFrom);
    move(Math.round(length * 16) / 16, Math.round(front));
  }
  plot.addEventListener("pointerdown", (event) => {
    // a finger that moves scrolls the page; only its tap moves the arrow
    if (event.button !== 0 || event.pointerType === "touch") return;
    plot.setPointerCapture(event.pointerId);
    pointed(event);
  });
  plot.addEventListener("pointermove", (event) => { if (plot.hasPointerCapture(event.pointerId)) pointed(event); });

  plot.addEventListener("click", (event) => { if (event.pointerType === "touch") pointed(event); });

  plot.addEventListener("keydown", (event) => {
    const times = event.shiftKey ? 4 : 1;
    const steps = { ArrowLeft: [-0.125, 0], ArrowRight: [0.125, 0], ArrowUp: [0, 5], ArrowDown: [0, -5] };
    if (event.key in steps && !event.ctrlKey && !event.metaKey && !event.altKey) {
      const [length, front] = steps[event.key];
      move(here.length + times * length, here.front + times * front);
    } else if (event.key === "Home" && kept.shaft === here.shaft) move(kept.length, kept.front);
    else return;
    event.preventDefault();
  });

  form.addEventListener("submit", (event) => { event.preventDefault(); typed(); });
  const typed = () => {
    const length = Number(fields.reach.value), front = Number(fields.front.value);
    if (Number.isFinite(length) && Number.isFinite(front) && length > 0) move(length, front);
  };
  fields.reach.addEventListener("change", typed);
  fields.front.addEventListener("change", typed);
  fields.shaft?.addEventListener("change", () => {
    location.search = new URLSearchParams({ shaft: fields.shaft.value }).toString() + "&" + address(kept, "kept_");
  });

  panel.addEventListener("click", (event) => {
    const go = event.target.closest("[data-go]");
    if (!go) return;
    event.preventDefault();
    move(Number(go.dataset.length), Number(go.dataset.front));
    plot.focus();
  });
  walk.querySelector("[data-keep]").addEventListener("click", () => {
    Object.assign(kept, here);
    const [cx, cy] = map.querySelector(".here").getAttribute("transform").match(/[-\d.]+/g);
    map.querySelector("circle.kept")?.remove();
    map.querySelector(".cross").before(circle({ class: "kept", r: 6, cx, cy }));
    said.textContent = "Kept.";
    ask();
  });
}
