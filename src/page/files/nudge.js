// Colours that follow a hand: a reading as it is typed, a drop more or less. The server knows the colour; of several questions on
// their way the last one counts.
export function openNudge() {
  typedBeside();
  drops();
}

function asker(show) {
  let last = 0;
  return async (path) => {
    const own = ++last;
    try {
      const answer = await fetch(path, { cache: "no-store" });
      if (own === last && answer.ok) show(await answer.json());
    } catch { /* nobody answers: the colour stays as it was */ }
  };
}

function typedBeside() {
  const form = document.querySelector("form[data-beside]");
  const patch = document.getElementById("reading-patch");
  if (!form || !patch) return;
  const ask = asker(({ colour, words }) => {
    patch.setAttribute("fill", colour);
    document.getElementById("beside").textContent = words;
  });
  let waits = 0;
  form.addEventListener("input", () => {
    clearTimeout(waits);
    waits = setTimeout(() => {
      const numbers = ["l", "a", "b"].map((name) => form.elements[name].value.trim().replace(",", "."));
      if (numbers.some((number) => number === "" || !Number.isFinite(Number(number)))) return;
      const [l, a, b] = numbers;
      ask(`${form.dataset.beside}?${new URLSearchParams({ l, a, b })}`);
    }, 150);
  });
}

function drops() {
  const place = document.getElementById("nudge");
  if (!place) return;
  const patch = document.getElementById("reading-patch");
  const ask = asker(({ colour, words }) => {
    patch.setAttribute("fill", colour);
    document.getElementById("nudged").textContent = words;
  });
  const counts = [...place.querySelectorAll("output[data-count]")];
  const thickness = place.querySelector('[name="thickness_mm"]');
  const asks = () => ask(`${place.dataset.path}?${new URLSearchParams({
    drops: counts.map((each) => each.textContent).join(","),
    thickness_mm: thickness.value,
  })}`);
  place.addEventListener("click", (event) => {
    const button = event.target.closest("button[data-by]");
    if (!button) return;
    const count = button.parentElement.querySelector("output");
    count.textContent = Math.max(0, Number(count.textContent) + Number(button.dataset.by));
    asks();
  });
  thickness.addEventListener("input", () => {
    document.getElementById("nudge-thickness").textContent = `${thickness.value} mm`;
    asks();
  });
}
