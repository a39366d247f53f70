// One dose at a time: the step above, a pad below that the whole hand can hit. Nothing here asks the server: what is counted is
// kept in this browser at every tap.
import { begin, runs } from "./clocks.js";
import { forget, keep, load, say } from "./store.js";

// After the last drop the pad is deaf for so long, ms: a hand in its rhythm taps once more.
const DEAF_MS = 800;
const MOST_PIPS = 60;

// How several pots are tinted is remembered for the part in this browser: unless it is told otherwise, its screen opens as it was
// left.
export function openPots() {
  const form = document.getElementById("pots");
  if (!form) return;
  const key = `dropwise/pots/${location.pathname}`;
  const here = new URL(location);
  const shown = form.elements.pots.value;
  const kept = load(key, shown);
  if (here.searchParams.get("pots")) keep(key, shown);
  else if (kept !== shown) {
    here.searchParams.set("pots", kept);
    location.replace(here);
  }
  form.querySelector("button").hidden = true;
  form.addEventListener("change", () => form.submit());
}

export function openBench() {
  const pour = document.getElementById("pour");
  const bench = document.getElementById("bench");
  if (!pour || !bench) return;
  const part = pour.dataset.part;
  const steps = [...document.querySelectorAll("#steps > .step")];
  if (steps.length === 0) return;
  const at = (id) => document.getElementById(id);
  const [pad, undo, back, next, begun] = ["bench-pad", "bench-undo", "bench-back", "bench-next", "begin"].map(at);
  // Another recipe, or another size, is another pour.
  const recipe = steps.map((step) => step.textContent).join("\n");
  const key = `dropwise/pour/${location.pathname}`;
  const kept = load(key, null);
  let state = kept?.recipe === recipe ? kept : { recipe, step: 0, counts: {}, done: {}, isOpen: false };
  let deafUntil = 0;
  const words = begun.textContent;

  const save = () => keep(key, state);
  const current = () => steps[state.step];
  const count = () => state.counts[state.step] ?? 0;
  const wanted = () => Number(current().dataset.count);
  const isDone = (index) => {
    const { act, count: of } = steps[index].dataset;
    return act === "count" ? (state.counts[index] ?? 0) >= Number(of) : Boolean(state.done[index]);
  };

  function marks() {
    steps.forEach((step, index) => step.classList.toggle("done", isDone(index)));
    const isUnderWay = steps.some((_, index) => isDone(index) || state.counts[index]);
    begun.hidden = false;
    begun.textContent = isUnderWay ? `Go on: step ${state.step + 1} of ${steps.length}` : words;
    anew.hidden = !isUnderWay;
  }

  const anew = document.createElement("button");
  anew.type = "button";
  anew.className = "plain";
  anew.textContent = "Begin anew";
  anew.addEventListener("click", () => {
    forget(key);
    state = { recipe, step: 0, counts: {}, done: {}, isOpen: false };
    marks();
    begun.focus();
  });
  begun.after(anew);

  function draw() {
    const { act, clock } = current().dataset;
    at("bench-at").textContent = `Step ${state.step + 1} of ${steps.length}`;
    at("bench-step").replaceChildren(...[...current().children].map((child) => child.cloneNode(true)));
    at("bench-step").dataset.act = act;
    drawPips(act === "count" ? wanted() : 0);
    const is = isDone(state.step);
    bench.classList.toggle("full", is);
    const isLast = state.step === steps.length - 1;
    const on = isLast ? "All is in" : "Tap to go on";
    const onPad = {
      count: is ? `All ${wanted()} are in. ${on}` : `${count()} of ${wanted()}. Tap for each drop`,
      measure: is ? on : "It is in",
      start: is || runs(part, clock) ? `The clock runs. ${on}` : "Part A is in: start the clock",
      do: is ? on : "Done",
    }[act];
    pad.textContent = onPad;
    undo.hidden = act === "count" ? count() === 0 : true;
    back.disabled = state.step === 0;
    next.textContent = isLast ? "Leave" : "Next";
  }

  function drawPips(of) {
    const pips = at("bench-pips");
    pips.replaceChildren();
    for (let index = 0; index < Math.min(of, MOST_PIPS); index += 1) {
      const pip = document.createElement("span");
      if (index < count()) pip.className = "in";
      pips.append(pip);
    }
  }

  function go(step) {
    if (step >= steps.length) return close();
    state.step = Math.max(0, step);
    save();
    draw();
    say([...at("bench-step").children].map((line) => line.textContent).join(", "));
    at("bench-step").scrollTop = 0;
    pad.focus();
  }

  function tap() {
    if (Date.now() < deafUntil) return;
    const { act, clock, stages } = current().dataset;
    if (isDone(state.step)) return go(state.step + 1);
    if (act === "count") {
      state.counts[state.step] = count() + 1;
      navigator.vibrate?.(15);
      if (count() === wanted()) {
        deafUntil = Date.now() + DEAF_MS;
        navigator.vibrate?.([40, 60, 40]);
      }
      say(count() === wanted() ? `All ${wanted()} are in` : `${count()} of ${wanted()}`);
    } else {
      if (act === "start" && !runs(part, clock) && stages) {
        begin(part, pour.dataset.title, clock, stages, Boolean(pour.dataset.kept));
      }
      state.done[state.step] = true;
      deafUntil = Date.now() + DEAF_MS / 2;
      // What is weighed is done at once; part A has words that are read after it.
      if (act !== "start") {
        save();
        return go(state.step + 1);
      }
    }
    save();
    draw();
  }

  function open() {
    state.isOpen = true;
    save();
    document.body.classList.add("pouring");
    bench.hidden = false;
    stayAwake();
    go(state.step);
  }

  function close() {
    state.isOpen = false;
    save();
    document.body.classList.remove("pouring");
    bench.hidden = true;
    marks();
    begun.focus();
  }

  pad.addEventListener("click", tap);
  undo.addEventListener("click", () => {
    state.counts[state.step] = Math.max(0, count() - 1);
    deafUntil = 0;
    save();
    draw();
    say(`${count()} of ${wanted()}`);
    pad.focus();
  });
  back.addEventListener("click", () => go(state.step - 1));
  next.addEventListener("click", () => go(state.step + 1));
  at("bench-list").addEventListener("click", close);
  begun.addEventListener("click", open);
  document.addEventListener("keydown", (event) => {
    if (bench.hidden) return;
    if (event.key === "Escape") close();
    if (event.key === "Backspace" && !undo.hidden) undo.click();
  });
  marks();
  if (state.isOpen) open();
}

// Keeps the screen lit while hands are busy, where the browser lets it.
async function stayAwake() {
  try {
    await navigator.wakeLock?.request("screen");
  } catch { /* it goes dark; nothing is lost */ }
}
