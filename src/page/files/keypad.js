// Keys that a gloved thumb hits, for the three numbers of a reading; the telephone's own keys stay away while they are there.
export function openKeypad() {
  for (const place of document.querySelectorAll('[data-keys="lab"]')) keysFor(place);
}

function keysFor(place) {
  const inputs = [...place.querySelectorAll("input")];
  // A machine with a keyboard needs none.
  if (!matchMedia("(pointer: coarse)").matches || inputs.length === 0) return;
  let at = inputs[0];
  const pad = document.createElement("div");
  pad.className = "keypad";
  pad.hidden = true;
  pad.setAttribute("role", "group");
  pad.setAttribute("aria-label", "Keys for the reading");
  place.after(pad);
  const take = (input) => {
    at = input;
    pad.hidden = false;
    inputs.forEach((other) => other.classList.toggle("taken", other === input));
  };
  const type = (text) => {
    at.value = text;
    at.dispatchEvent(new Event("input", { bubbles: true }));
  };
  const keys = ["7", "8", "9", "⌫", "4", "5", "6", "±", "1", "2", "3", "Next", "0", "."];
  for (const key of keys) {
    const button = document.createElement("button");
    button.type = "button";
    button.textContent = key;
    const names = { "⌫": "take one back", "±": "plus or minus", ".": "point" };
    if (names[key]) button.setAttribute("aria-label", names[key]);
    if (key === "Next") button.className = "go";
    button.addEventListener("click", () => {
      if (key === "⌫") type(at.value.slice(0, -1));
      else if (key === "±") type(at.value.startsWith("-") ? at.value.slice(1) : `-${at.value}`);
      else if (key === "Next") take(inputs[(inputs.indexOf(at) + 1) % inputs.length]);
      else if (key !== "." || !at.value.includes(".")) type(at.value + key);
    });
    pad.append(button);
  }
  for (const input of inputs) {
    input.setAttribute("inputmode", "none");
    input.addEventListener("focus", () => take(input));
    input.addEventListener("pointerdown", () => take(input));
  }
}
