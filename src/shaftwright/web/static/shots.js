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

  function inches(text) {
    const plain = text.replace(/in|"/g, "").replace(/\u2212/g, "-").trim();
    const mixed = plain.match(/^([-+]?)(?:(\d+(?:\.\d+)?)\s+)?(\d+)\/(\d+)$/);
    if (mixed) return (mixed[1] === "-" ? -1 : 1) * (Number(mixed[2] ?? 0) + Number(mixed[3]) / Number(mixed[4]));
    return plain === "" ? NaN : Number(plain);
  }

  function draw() {
    dots.replaceChildren();
    for (const row of rows()) {
      const x = inches(of(row, "right").value), y = inches(of(row, "up").value);
      if (!Number.isFinite(x) && !Number.isFinite(y)) continue;
      const dot = document.createElementNS("http://www.w3.org/2000/svg", "circle");
      dot.setAttribute("class", of(row, "kind").value === "bare" ? "bare" : "fletched");
      dot.setAttribute("cx", x || 0);
      dot.setAttribute("cy", -(y || 0));
      dot.setAttribute("r", "0.42");
      dots.append(dot);
    }
  }

  function fresh() {
    const row = rows().at(-1).cloneNode(true);
    of(row, "right").value = of(row, "up").value = of(row, "tail").value = "";
    list.append(row);
    return row;
  }

  face.addEventListener("click", (event) => {
    const at = new DOMPoint(event.clientX, event.clientY).matrixTransform(face.getScreenCTM().inverse());
    const kind = sheet.querySelector('[name="tap"]:checked').value;
    const row = rows().find((r) => of(r, "kind").value === kind && !of(r, "right").value && !of(r, "up").value)
      ?? rows().find((r) => !of(r, "right").value && !of(r, "up").value) ?? fresh();
    const round = (value) => String(Math.round(value * 4) / 4 || 0);
    of(row, "kind").value = kind;
    of(row, "right").value = round(at.x);
    of(row, "up").value = round(-at.y);
    said.textContent = `${kind}: ${round(at.x)} right, ${round(-at.y)} up`;
    draw();
  });
  list.addEventListener("input", draw);
  list.addEventListener("click", (event) => {
    const away = event.target.closest("[data-hit-away]");
    if (!away) return;
    const row = away.closest("[data-hit]");
    if (rows().length > 1) row.remove();
    else of(row, "right").value = of(row, "up").value = "";
    draw();
    (rows()[0].querySelector("select")).focus();
  });
  sheet.querySelector("[data-hit-more]").addEventListener("click", () => of(fresh(), "kind").focus());

  const by = () => {
    const way = sheet.querySelector('[name="by"]:checked')?.value ?? sheet.elements.by?.value ?? "numbers";
    sheet.querySelectorAll("[data-by]").forEach((e) => { e.hidden = e.dataset.by !== way; });
  };
  sheet.addEventListener("change", by);
  by();
  draw();

  const query = new URLSearchParams(location.search), note = document.querySelector("[data-noted]");
  if (query.has("noted") || query.has("twice")) {
    note.textContent = query.has("noted") ? `Noted, line ${Number(query.get("noted"))} of the notebook.` : "That is the last entry already; it was not noted twice.";
    note.hidden = false;
    history.replaceState(null, "", "/shots");
  }
}
