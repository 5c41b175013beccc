// Hits by tapping on a face; the numbers beside it are the form, the face only helps to fill them in.
"use strict";

const sheet = document.querySelector("[data-shots]");
if (sheet) {
  const list = sheet.querySelector("[data-hits]");
  const face = sheet.querySelector("[data-target]");
  const dots = sheet.querySelector("[data-dots]");
  const said = sheet.querySelector("[data-face-said]");
  const rows = () => [...list.querySelectorAll("[data-hit]")];
  const of = (row, name) => row.querySelector(`[name="hit-${name}"]`);

  // the face is 24 across, in inches or in 2.5 cm each
  const off = face.dataset.off, per = { in: 1, cm: 2.5 }[off], size = { in: 2.54, '"': 2.54, cm: 1, mm: 0.1 };
  function onFace(text) {
    const [, plain, unit] = text.replace(/\u2212/g, "-").trim().match(/^(.*?)\s*(in|cm|mm|")?$/);
    const mixed = plain.match(/^([-+]?)(?:(\d+(?:\.\d+)?)\s+)?(\d+)\/(\d+)$/);
    const value = mixed ? (mixed[1] === "-" ? -1 : 1) * (Number(mixed[2] ?? 0) + Number(mixed[3]) / Number(mixed[4])) : plain === "" ? NaN : Number(plain);
    return value * size[unit ?? off] / size[off] / per;
  }

  function draw() {
    dots.replaceChildren();
    for (const row of rows()) {
      const x = onFace(of(row, "right").value), y = onFace(of(row, "up").value);
      if (!Number.isFinite(x) && !Number.isFinite(y)) continue;
      dots.append(circle({ class: of(row, "kind").value === "bare" ? "bare" : "fletched", cx: x || 0, cy: -(y || 0), r: 0.42 }));
    }
  }

  function fresh() {
    const row = rows().at(-1).cloneNode(true);
    of(row, "right").value = of(row, "up").value = of(row, "tail").value = "";
    list.append(row);
    return row;
  }

  const empty = (row) => !of(row, "right").value && !of(row, "up").value;
  const taps = [];
  const undo = sheet.querySelector("[data-undo]");
  const kind = () => sheet.querySelector('[name="tap"]:checked').value;
  const counted = () => {
    const full = rows().filter((row) => !empty(row));
    const bare = full.filter((row) => of(row, "kind").value === "bare").length;
    return `${full.length - bare} fletched, ${bare} bare`;
  };
  function told(last) {
    said.textContent = `${last ? last + ". " : ""}${counted()}. The next tap is ${kind()}.`;
    undo.disabled = !taps.length;
  }

  face.addEventListener("click", (event) => {
    const at = new DOMPoint(event.clientX, event.clientY).matrixTransform(face.getScreenCTM().inverse());
    const row = rows().find((r) => of(r, "kind").value === kind() && empty(r)) ?? rows().find(empty) ?? fresh();
    const round = (value) => String(off === "in" ? Math.round(value * 4) / 4 || 0 : Math.round(value * per * 2) / 2 || 0);
    of(row, "kind").value = kind();
    of(row, "right").value = round(at.x);
    of(row, "up").value = round(-at.y);
    taps.push(row);
    draw();
    told(`${round(at.x)} right, ${round(-at.y)} up`);
    keep();
  });
  undo.addEventListener("click", () => {
    const row = taps.pop();
    if (!row) return;
    of(row, "right").value = of(row, "up").value = of(row, "tail").value = "";
    sheet.querySelector(`[name="tap"][value="${of(row, "kind").value}"]`).checked = true;
    draw();
    told("Taken back");
    keep();
  });
  list.addEventListener("input", draw);
  list.addEventListener("click", (event) => {
    const away = event.target.closest("[data-hit-away]");
    if (!away) return;
    const row = away.closest("[data-hit]");
    if (taps.includes(row)) taps.splice(taps.indexOf(row), 1);
    if (rows().length > 1) row.remove();
    else of(row, "right").value = of(row, "up").value = "";
    draw();
    told();
    keep();
    (rows()[0].querySelector("select")).focus();
  });
  sheet.querySelector("[data-hit-more]").addEventListener("click", () => of(fresh(), "kind").focus());

  const arrow = sheet.querySelector("[data-arrow]");
  function by() {
    const way = sheet.querySelector('[name="by"]:checked')?.value ?? sheet.elements.by?.value ?? "numbers";
    sheet.querySelectorAll("[data-by]").forEach((e) => { e.hidden = e.dataset.by !== way; });
    const value = (name) => sheet.elements[name]?.value.trim() ?? "";
    const parts = way === "names" ? ["build.shaft", "build.length", "build.point", "build.insert"] : ["build.spine", "build.length", "build.front"];
    const unit = { "build.length": " in", "build.front": " gr up front", distance: off === "in" ? " yd" : " m" };
    const given = [...parts, "distance"].filter(value).map((name) => value(name) + (/^[\d.]+$/.test(value(name)) ? unit[name] ?? "" : ""));
    const piece = value("piece");
    arrow.querySelector("[data-arrow-told]").textContent = (given.join(", ") || "Not said yet") + (piece ? `, no. ${piece}` : "");
  }

  // What is put in waits in this browser's own store until it is noted.
  const draftName = "shaftwright-shots " + ofFolder;
  let touched = false;
  function keep() {
    touched = true;
    const hits = rows().map((row) => ["kind", "right", "up", "tail"].map((name) => of(row, name).value));
    store((s) => s.setItem(draftName, JSON.stringify({ fields: fieldsOf(sheet), hits, taps: taps.map((row) => rows().indexOf(row)) })));
  }
  function put(draft) {
    putBack(sheet, draft.fields);
    while (rows().length < draft.hits.length) fresh();
    draft.hits.forEach((hit, i) => ["kind", "right", "up", "tail"].forEach((name, k) => { of(rows()[i], name).value = hit[k]; }));
    taps.splice(0, taps.length, ...draft.taps.map((i) => rows()[i]).filter(Boolean));
    touched = true;
  }

  const query = new URLSearchParams(location.search), note = document.querySelector("[data-noted]");
  const noted = query.has("noted") || query.has("twice");
  if (noted) {
    note.textContent = query.has("noted") ? `Noted, line ${Number(query.get("noted"))} of the notebook.` : "That is the last entry already; it was not noted twice.";
    note.hidden = false;
    store((s) => s.removeItem(draftName));
    history.replaceState(null, "", at + "/shots");
  }
  const draft = noted || "given" in sheet.dataset ? null : JSON.parse(store((s) => s.getItem(draftName)) ?? "null");
  const offer = document.querySelector("[data-draft]");
  if (draft) { put(draft); offer.hidden = false; }
  offer.querySelector("[data-draft-drop]").addEventListener("click", () => {
    touched = false;
    store((s) => s.removeItem(draftName));
    location.reload();
  });

  sheet.addEventListener("input", () => { by(); told(); keep(); });
  window.addEventListener("beforeunload", (event) => { if (touched) event.preventDefault(); });
  // a page that the browser kept whole may be of a reading that is noted by now
  window.addEventListener("pageshow", (event) => { if (event.persisted) location.reload(); });

  const right = sheet.querySelector("[data-right]");
  let sure = false;
  sheet.addEventListener("submit", (event) => {
    if (!sure) {
      event.preventDefault();
      right.querySelector("p").textContent = `${counted()}: right?`;
      right.showModal();
      return;
    }
    touched = false;
  });
  right.querySelector("[data-right-yes]").addEventListener("click", () => { sure = true; right.close(); sheet.requestSubmit(); });
  right.querySelector("[data-right-no]").addEventListener("click", () => right.close());

  by();
  draw();
  told();
}
