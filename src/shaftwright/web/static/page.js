// Small helpers of every page: parts that load by themselves, the rig's live check and drafts.
"use strict";

// where this bow lies, when several are open
const at = document.documentElement.dataset.at;
const token = document.querySelector('meta[name="token"]')?.content ?? "";
document.querySelectorAll("[data-js]").forEach((e) => { e.hidden = false; });
document.querySelectorAll("[data-hide]").forEach((e) => { e.hidden = true; });

// A piece of markup is made by this page's own server, escaped there, and holds no script.
async function load(place, address) {
  const answer = await fetch(address, { headers: { "X-Part": "1" } }).catch(() => null);
  if (answer?.ok) place.innerHTML = await answer.text();
}
for (const place of document.querySelectorAll("[data-load-part]")) load(place, place.dataset.loadPart);

// what moves, or is large, comes when its fold is first opened
for (const place of document.querySelectorAll("[data-load-open]")) {
  place.closest("details").addEventListener("toggle", () => load(place, place.dataset.loadOpen), { once: true });
}

function circle(given) {
  const made = document.createElementNS("http://www.w3.org/2000/svg", "circle");
  for (const [name, value] of Object.entries(given)) made.setAttribute(name, value);
  return made;
}

const store = (work) => { try { return work(window.localStorage); } catch { return null; } };
const ofFolder = location.host + " " + (document.querySelector("footer .quiet")?.textContent ?? "");

// A draft: what a form held, all but what is the page's own.
const notKept = /^(token|revision|then)$|^hit-/;
const fieldsOf = (form) => [...new FormData(form)].filter(([name]) => !notKept.test(name));
function putBack(form, fields) {
  const given = new Map(fields);
  for (const control of form.elements) {
    if (!control.name || notKept.test(control.name)) continue;
    if (control.type === "radio") control.checked = given.get(control.name) === control.value;
    else if (control.type === "checkbox") control.checked = given.has(control.name);
    else if (given.has(control.name)) control.value = given.get(control.name);
  }
}

// The list: what is bought stays ticked in this browser, and the rest can be shared.
const ticks = [...document.querySelectorAll("[data-tick]")];
if (ticks.length) {
  const ticked = new Set(JSON.parse(store((s) => s.getItem("shaftwright-list " + ofFolder)) ?? "[]"));
  for (const box of ticks) {
    box.checked = ticked.has(box.dataset.tick);
    box.addEventListener("change", () => {
      if (box.checked) ticked.add(box.dataset.tick); else ticked.delete(box.dataset.tick);
      ticks.forEach((other) => { other.checked = ticked.has(other.dataset.tick); });
      store((s) => s.setItem("shaftwright-list " + ofFolder, JSON.stringify([...ticked])));
    });
  }
  const told = document.querySelector("[data-share-said]");
  document.querySelector("[data-share]").addEventListener("click", async () => {
    const text = [...new Set(ticks.filter((box) => !box.checked).map((box) => box.dataset.line))].join("\n");
    try {
      if (navigator.share) await navigator.share({ text });
      else { await navigator.clipboard.writeText(text); told.textContent = "Copied."; }
    } catch { told.textContent = "This browser does not share from here; take the text below."; }
  });
}

// a question that does not arise is hidden; without this script all are shown
function ways(form) {
  form.querySelectorAll("[data-when]").forEach((place) => {
    const [name, values] = place.dataset.when.split("="), asked = form.elements[name];
    place.hidden = !values.split("|").includes(asked.value) && !("ways" in form.dataset && place.querySelector("input, select").value);
  });
}
document.querySelectorAll("[data-ways]").forEach((form) => {
  form.addEventListener("input", () => ways(form));
  ways(form);
});

const rig = document.querySelector("[data-rig]");
if (rig) {
  const draftName = "shaftwright-rig " + ofFolder;
  const revision = () => rig.elements.revision.value;
  const before = JSON.stringify(fieldsOf(rig));
  const query = new URLSearchParams(location.search);
  let touched = false, timer = 0, asked = 0;

  if (query.has("saved")) {
    document.querySelector("[data-saved]").hidden = false;
    store((s) => s.removeItem(draftName));
    history.replaceState(null, "", at + "/rig");
  }

  // a measure and "I do not know" are one answer: what is given last stands
  rig.querySelectorAll("[data-unknown]").forEach((box) => {
    const measure = document.getElementById(box.dataset.unknown);
    box.addEventListener("input", () => { if (box.checked) measure.value = ""; });
    measure.addEventListener("input", () => { if (measure.value) box.checked = false; });
  });
  ways(rig);

  function showFaults(faults) {
    rig.querySelectorAll("[data-fault]").forEach((place) => {
      const name = place.dataset.fault;
      const control = rig.querySelector(`[name="${CSS.escape(name)}"]`);
      const used = control && (control.type === "radio"
        ? rig.querySelector(`[name="${CSS.escape(name)}"]:checked`) : control.value.trim());
      const told = faults[name] ?? "";
      // an empty answer is not wrong while the archer is still on the way to it
      const show = told && (used || !/is missing|needs both/.test(told) || !place.hidden);
      place.textContent = show ? told : "";
      place.hidden = !show;
      if (control && control.type !== "radio") {
        if (show) control.setAttribute("aria-invalid", "true"); else control.removeAttribute("aria-invalid");
      }
    });
  }

  async function check() {
    const mine = ++asked;
    try {
      const answer = await fetch(at + "/rig/check", { method: "POST", body: new FormData(rig), headers: { "X-Shaftwright-Token": token } });
      if (!answer.ok || mine !== asked) return;
      const found = await answer.json();
      showFaults(found.faults);
      const open = Object.values(found.faults).length + found.others.length;
      rig.querySelector("[data-told]").textContent = found.told || (open ? `${open} answer${open > 1 ? "s" : ""} still to give or to mend.` : "");
      document.querySelector("[data-moved]").hidden = found.stands;
    } catch { /* the server is away; the draft is kept below */ }
  }

  rig.addEventListener("input", () => {
    touched = true;
    ways(rig);
    store((s) => s.setItem(draftName, JSON.stringify({ revision: revision(), fields: fieldsOf(rig) })));
    clearTimeout(timer);
    timer = setTimeout(check, 350);
  });
  rig.addEventListener("submit", () => { touched = false; });
  window.addEventListener("beforeunload", (event) => { if (touched) event.preventDefault(); });
  document.querySelectorAll("[data-drop-draft]").forEach((link) => link.addEventListener("click", () => store((s) => s.removeItem(draftName))));

  const draft = JSON.parse(store((s) => s.getItem(draftName)) ?? "null");
  const offer = document.querySelector("[data-draft]");
  if (draft && !query.has("saved") && JSON.stringify(draft.fields) !== before && !document.getElementById("clash")) {
    offer.hidden = false;
    offer.querySelector("[data-draft-take]").addEventListener("click", () => {
      putBack(rig, draft.fields);
      ways(rig);
      check();
      touched = true;
      offer.hidden = true;
    });
    offer.querySelector("[data-draft-drop]").addEventListener("click", () => { store((s) => s.removeItem(draftName)); offer.hidden = true; });
  }
  if (!rig.querySelector("[data-fault]:not([hidden])")) check();
}
