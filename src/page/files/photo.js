// Boxes over skin and card, drawn with a finger. The picture stays in the browser until it is sent to be read; the boxes are in
// pixels of the upright picture, and can be typed as well.
export function openPhoto() {
  const form = document.getElementById("photo-form");
  if (!form) return;
  const canvas = document.getElementById("photo-canvas");
  const pen = canvas.getContext("2d");
  const boxes = { skin: null, card: null };
  const inks = { skin: "#ffffff", card: "#ffd400" };
  let picture = null;
  let drag = null;

  const field = (name) => form.elements[name];
  const draws = () => form.elements.draws.value;

  function draw() {
    if (!picture) return;
    pen.drawImage(picture, 0, 0, canvas.width, canvas.height);
    const scale = canvas.width / picture.width;
    // A canvas is drawn smaller than it is: lines and words are not.
    const dot = canvas.width / (canvas.clientWidth || canvas.width);
    for (const [name, box] of Object.entries(boxes)) {
      if (!box) continue;
      const [left, top, width, height] = box.map((value) => value * scale);
      for (const [ink, line] of [["#000000", 6 * dot], [inks[name], 3 * dot]]) {
        pen.strokeStyle = ink;
        pen.lineWidth = line;
        pen.setLineDash(name === "card" ? [12 * dot, 7 * dot] : []);
        pen.strokeRect(left, top, width, height);
      }
      pen.setLineDash([]);
      pen.font = `bold ${16 * dot}px sans-serif`;
      pen.lineWidth = 4 * dot;
      pen.strokeStyle = "#000000";
      pen.strokeText(name, left + 5 * dot, top + 18 * dot);
      pen.fillStyle = inks[name];
      pen.fillText(name, left + 5 * dot, top + 18 * dot);
    }
  }

  // Where a touch is, in pixels of the picture.
  function place(event) {
    const frame = canvas.getBoundingClientRect();
    const within = (value, most) => Math.round(Math.min(Math.max(value, 0), 1) * most);
    return [
      within((event.clientX - frame.left) / frame.width, picture.width),
      within((event.clientY - frame.top) / frame.height, picture.height),
    ];
  }

  canvas.addEventListener("pointerdown", (event) => {
    if (!picture) return;
    canvas.setPointerCapture(event.pointerId);
    drag = { name: draws(), from: place(event) };
  });
  canvas.addEventListener("pointermove", (event) => {
    if (!drag) return;
    const [x, y] = place(event);
    const [left, top] = [Math.min(x, drag.from[0]), Math.min(y, drag.from[1])];
    boxes[drag.name] = [left, top, Math.abs(x - drag.from[0]), Math.abs(y - drag.from[1])];
    draw();
  });
  const end = () => {
    if (!drag) return;
    const { name } = drag;
    drag = null;
    // A touch is no box.
    if (boxes[name] && (boxes[name][2] < 8 || boxes[name][3] < 8)) boxes[name] = null;
    field(name).value = boxes[name] ? boxes[name].join(",") : "";
    // After the skin comes the card.
    if (name === "skin" && boxes.skin && !boxes.card) form.elements.draws.value = "card";
    draw();
  };
  canvas.addEventListener("pointerup", end);
  canvas.addEventListener("pointercancel", end);
  for (const name of ["skin", "card"]) {
    field(name).addEventListener("input", () => {
      const numbers = field(name).value.split(",").map(Number);
      boxes[name] = numbers.length === 4 && numbers.every(Number.isFinite) ? numbers : null;
      draw();
    });
  }

  document.getElementById("photo-file").addEventListener("change", async (event) => {
    const [file] = event.target.files;
    const place = document.getElementById("photo-boxes");
    picture = null;
    boxes.skin = boxes.card = null;
    field("skin").value = field("card").value = "";
    form.elements.draws.value = "skin";
    place.hidden = true;
    if (!file) return;
    try {
      picture = await createImageBitmap(file, { imageOrientation: "from-image" });
    } catch {
      // This browser can't show it; the boxes can still be typed.
      document.getElementById("photo-typed").open = true;
      return;
    }
    canvas.width = Math.min(picture.width, 1400);
    canvas.height = Math.round((canvas.width * picture.height) / picture.width);
    place.hidden = false;
    draw();
  });
}
