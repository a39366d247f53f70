// What lies where in a photograph, shown with a finger: boxes are dragged, corners are set one by one under a loupe beside the
// finger, which hides what it points at; a keyboard's arrows go where a finger would. The picture stays in the browser until it is
// sent to be read; all of it is in pixels of the upright picture, and can be typed as well.
import { say } from "./store.js";

const LOUPE_TIMES = 3;
// A touch so near to a corner, in pixels of the screen, takes hold of it.
const GRIP = 36;
// An arrow key goes this share of the picture's longer side; with Shift, one pixel.
const STRIDE = 1 / 50;
const ARROWS = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };
const CORNERS = ["top left", "top right", "bottom right", "bottom left"];
const INKS = ["#ffffff", "#ffd400", "#7fe0ff"];
const DASHES = [[], [12, 7], [3, 6]];

export function openPhoto() {
  const form = document.getElementById("photo-form");
  if (!form) return;
  const [canvas, loupe, how] = ["photo-canvas", "photo-loupe", "photo-how"].map((id) => document.getElementById(id));
  const pen = canvas.getContext("2d");
  const choices = [...form.querySelectorAll('input[name="draws"]')];
  const names = choices.map((choice) => choice.value);
  // A box as [left, top, width, height]; corners as places [x, y], up to four.
  const drawn = Object.fromEntries(names.map((name) => [name, null]));
  let picture = null;
  let hold = null;
  // Where the arrow keys stand.
  let cursor = null;

  const field = (name) => form.elements[name];
  const chosen = () => choices.find((choice) => choice.checked);
  const isCorners = (name) => choices[names.indexOf(name)].dataset.shape === "corners";
  // A canvas is drawn smaller than it is: lines, words and grips are not.
  const dot = () => canvas.width / (canvas.clientWidth || canvas.width);
  const scale = () => canvas.width / picture.width;

  function outline(name, index) {
    const box = drawn[name];
    if (!box) return;
    const places = isCorners(name)
      ? box
      : [[box[0], box[1]], [box[0] + box[2], box[1]], [box[0] + box[2], box[1] + box[3]], [box[0], box[1] + box[3]]];
    if (places.length === 0) return;
    const at = places.map((place) => place.map((value) => value * scale()));
    for (const [ink, line] of [["#000000", 6], [INKS[index % INKS.length], 3]]) {
      pen.strokeStyle = ink;
      pen.lineWidth = line * dot();
      pen.setLineDash(DASHES[index % DASHES.length].map((length) => length * dot()));
      pen.beginPath();
      at.forEach(([x, y], corner) => (corner ? pen.lineTo(x, y) : pen.moveTo(x, y)));
      if (places.length === 4) pen.closePath();
      pen.stroke();
      pen.setLineDash([]);
      if (isCorners(name)) at.forEach(([x, y]) => pen.strokeRect(x - 6 * dot(), y - 6 * dot(), 12 * dot(), 12 * dot()));
    }
    pen.font = `bold ${16 * dot()}px sans-serif`;
    pen.lineWidth = 4 * dot();
    pen.strokeStyle = "#000000";
    const word = choices[index].parentElement.textContent.trim();
    const from = [at[0][0] + 8 * dot(), at[0][1] + 22 * dot()];
    pen.strokeText(word, ...from);
    pen.fillStyle = INKS[index % INKS.length];
    pen.fillText(word, ...from);
  }

  function draw() {
    if (!picture) return;
    pen.drawImage(picture, 0, 0, canvas.width, canvas.height);
    names.forEach(outline);
    tell();
  }

  function tell() {
    const { value: name, parentElement } = chosen();
    const what = parentElement.textContent.trim();
    const set = drawn[name]?.length ?? 0;
    if (!isCorners(name)) how.textContent = `Drag a box over ${what}.`;
    else if (set < 4) how.textContent = `Press and slide to the ${CORNERS[set]} corner of the patches of ${what}, then let go.`;
    else how.textContent = "All four corners are set: press near one to move it.";
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

  // What lies under the finger, larger, at the side where the finger is not.
  function magnify([x, y]) {
    const glass = loupe.getContext("2d");
    const size = loupe.width;
    const shown = size / (LOUPE_TIMES * (canvas.clientWidth / picture.width));
    glass.fillStyle = "#777";
    glass.fillRect(0, 0, size, size);
    glass.drawImage(picture, x - shown / 2, y - shown / 2, shown, shown, 0, 0, size, size);
    for (const [ink, line] of [["#000000", 5], ["#ffffff", 2]]) {
      glass.strokeStyle = ink;
      glass.lineWidth = line;
      glass.beginPath();
      for (const [dx, dy] of [[1, 0], [-1, 0], [0, 1], [0, -1]]) {
        glass.moveTo(size / 2 + 8 * dx, size / 2 + 8 * dy);
        glass.lineTo(size / 2 + 40 * dx, size / 2 + 40 * dy);
      }
      glass.stroke();
    }
    loupe.classList.toggle("right", x < picture.width / 2);
    loupe.hidden = false;
  }

  // Where the keys stand: a cross on the picture, and what lies there under the loupe.
  function point() {
    const [x, y] = cursor.map((at) => at * scale());
    for (const [ink, line] of [["#000000", 5], ["#ffffff", 2]]) {
      pen.strokeStyle = ink;
      pen.lineWidth = line * dot();
      pen.beginPath();
      for (const [dx, dy] of [[14, 0], [0, 14]]) {
        pen.moveTo(x - dx * dot(), y - dy * dot());
        pen.lineTo(x + dx * dot(), y + dy * dot());
      }
      pen.stroke();
    }
    magnify(cursor);
  }

  // Of corners, the one that the finger takes hold of: one near it, or the next.
  function cornerAt(name, [x, y]) {
    const corners = (drawn[name] ??= []);
    const reach = (GRIP * dot()) / scale();
    const far = corners.map((corner) => Math.hypot(corner[0] - x, corner[1] - y));
    const near = far.indexOf(Math.min(...far));
    if (near >= 0 && (far[near] <= reach || corners.length === 4)) return near;
    return corners.length;
  }

  function write(name) {
    const value = drawn[name];
    const whole = isCorners(name) ? value?.length === 4 : Boolean(value);
    field(name).value = whole ? value.flat().join(",") : "";
  }

  function begin(from) {
    const name = chosen().value;
    hold = { name, from, corner: isCorners(name) ? cornerAt(name, from) : null };
    move(from);
  }
  function move([x, y]) {
    if (!hold) return;
    const { name, from, corner } = hold;
    if (corner === null) {
      drawn[name] = [Math.min(x, from[0]), Math.min(y, from[1]), Math.abs(x - from[0]), Math.abs(y - from[1])];
    } else {
      drawn[name][corner] = [x, y];
      magnify([x, y]);
    }
    draw();
  }
  function end() {
    if (!hold) return;
    const { name, corner } = hold;
    hold = null;
    loupe.hidden = true;
    // A touch is no box.
    if (corner === null && (drawn[name][2] < 8 || drawn[name][3] < 8)) drawn[name] = null;
    write(name);
    // After the first box comes what is still to be shown.
    if (corner === null && drawn[name]) {
      const next = choices.find((choice) => !drawn[choice.value] && choice.parentElement.offsetParent);
      if (next) next.checked = true;
    }
    draw();
  }
  canvas.addEventListener("pointerdown", (event) => {
    if (!picture) return;
    canvas.setPointerCapture(event.pointerId);
    begin(place(event));
  });
  canvas.addEventListener("pointermove", (event) => move(place(event)));
  canvas.addEventListener("pointerup", end);
  canvas.addEventListener("pointercancel", end);
  // A finger points and slides at once; keys go there first, and say with Enter that a box begins or something is set.
  canvas.addEventListener("keydown", (event) => {
    const step = ARROWS[event.key];
    if (!picture || !(step || event.key === "Enter" || (event.key === "Escape" && hold))) return;
    event.preventDefault();
    const size = [picture.width, picture.height];
    cursor ??= size.map((length) => Math.round(length / 2));
    const isBox = !isCorners(chosen().value);
    if (step) {
      const stride = event.shiftKey ? 1 : Math.round(Math.max(...size) * STRIDE) || 1;
      cursor = cursor.map((at, axis) => Math.min(Math.max(at + step[axis] * stride, 0), size[axis]));
      move(cursor);
    } else if (event.key === "Escape") {
      // No box: as if it had not begun.
      move(hold.from);
      end();
    } else if (hold || !isBox) {
      if (!hold) begin(cursor);
      end();
    } else {
      begin(cursor);
    }
    draw();
    point();
    say(`${cursor[0]} across, ${cursor[1]} down`);
  });
  canvas.addEventListener("blur", () => {
    loupe.hidden = true;
    draw();
  });
  for (const choice of choices) choice.addEventListener("change", draw);
  for (const name of names) {
    field(name).addEventListener("input", () => {
      const numbers = field(name).value.split(",").map(Number);
      const wanted = isCorners(name) ? 8 : 4;
      const isWhole = numbers.length === wanted && numbers.every(Number.isFinite);
      const pairs = () => [0, 2, 4, 6].map((first) => numbers.slice(first, first + 2));
      drawn[name] = isWhole ? (isCorners(name) ? pairs() : numbers) : null;
      draw();
    });
  }
  // What is not in the shot is not shown.
  form.addEventListener("change", (event) => {
    if (event.target.name !== "beside") return;
    if (!chosen().parentElement.offsetParent) choices[0].checked = true;
    draw();
  });

  document.getElementById("photo-file").addEventListener("change", async (event) => {
    const [file] = event.target.files;
    const boxes = document.getElementById("photo-boxes");
    picture = cursor = null;
    for (const name of names) {
      drawn[name] = null;
      field(name).value = "";
    }
    choices[0].checked = true;
    boxes.hidden = true;
    if (!file) return;
    try {
      picture = await createImageBitmap(file, { imageOrientation: "from-image" });
    } catch {
      // This browser can't show it; where things lie can still be typed.
      document.getElementById("photo-typed").open = true;
      return;
    }
    canvas.width = Math.min(picture.width, 1400);
    canvas.height = Math.round((canvas.width * picture.height) / picture.width);
    boxes.hidden = false;
    draw();
  });
}
