// Clocks of cups that are setting. They are kept in this browser and in the book: whichever has one shows it.
import { keep, load, say } from "./store.js";

const KEY = "dropwise/clocks";
const FETCH_MS = 15000;
// A machine that sleeps leaves a question hanging: it is asked again.
const WITHIN_MS = 10000;
const MINUTE = 60000;
// How long before a stage it is said, and how long it rings once it is there, in ms.
const WARN_MS = 60000;
const RING_MS = 45000;

const idOf = (clock) => `${clock.part}|${clock.cup}`;
const all = () => load(KEY, {});
let sound = null;
let quietUntil = 0;

// Begins the clock of one pot; `isKept` where its part stands in the book.
export function begin(part, title, cup, stages, isKept) {
  const clocks = all();
  const clock = { part, title, cup, stages, begun: Date.now(), sent: !isKept, own: !isKept, gone: false };
  clocks[idOf(clock)] = clock;
  keep(KEY, clocks);
  wakeSound();
  send();
  draw();
}

export function runs(part, cup) {
  const clock = all()[`${part}|${cup}`];
  return clock !== undefined && !clock.gone;
}

function stop(id) {
  const clocks = all();
  if (!clocks[id]) return;
  if (clocks[id].own) delete clocks[id];
  else Object.assign(clocks[id], { gone: true, sent: false });
  keep(KEY, clocks);
  send();
  draw();
}

// Tells the book what it doesn't have yet; what it can't be told now it is told later.
async function send() {
  for (const [id, clock] of Object.entries(all())) {
    if (clock.sent) continue;
    const form = new URLSearchParams({ cup: clock.cup, begun: clock.gone ? "" : String(clock.begun) });
    try {
      const answer = await fetch(`/parts/${encodeURIComponent(clock.part)}/clock`, { method: "POST", body: form, signal: AbortSignal.timeout(WITHIN_MS) });
      // What the book refuses (the part is gone) is this browser's alone from then on.
      const isRefused = answer.status === 422;
      if (!answer.ok && !isRefused) continue;
      const clocks = all();
      if (!clocks[id] || clocks[id].begun !== clock.begun) continue;
      if (clock.gone) delete clocks[id];
      else Object.assign(clocks[id], { sent: true, own: isRefused });
      keep(KEY, clocks);
    } catch { /* nobody answers */ }
  }
}

// Takes what the book has: it leads, but for what it was not told yet.
async function fetchKept() {
  try {
    await send();
    const answer = await fetch("/clocks", { cache: "no-store", signal: AbortSignal.timeout(WITHIN_MS) });
    if (!answer.ok) return;
    const kept = new Map((await answer.json()).map((clock) => [idOf(clock), clock]));
    // Nothing is waited for from here on, so that no clock that begins meanwhile is lost.
    const clocks = all();
    for (const [id, clock] of Object.entries(clocks)) {
      if (clock.sent && !clock.own && !kept.has(id)) delete clocks[id];
    }
    for (const [id, clock] of kept) {
      if (!clocks[id] || clocks[id].sent) clocks[id] = { ...clock, sent: true, own: false, gone: false };
    }
    keep(KEY, clocks);
    draw();
  } catch { /* nobody answers: what is here goes on */ }
}

function stagesOf(clock) {
  return clock.stages.split(";").filter(Boolean).map((stage) => {
    const [minutes, words] = stage.split("|");
    return { at: clock.begun + Number(minutes) * MINUTE, words };
  });
}

function time(ms) {
  const seconds = Math.max(0, Math.ceil(ms / 1000));
  const [hours, minutes] = [Math.floor(seconds / 3600), Math.floor(seconds / 60) % 60];
  const two = (n) => String(n).padStart(2, "0");
  return hours ? `${hours}:${two(minutes)}:${two(seconds % 60)}` : `${minutes}:${two(seconds % 60)}`;
}

function draw() {
  const place = document.getElementById("clocks");
  if (!place) return;
  const clocks = Object.entries(all()).filter(([, clock]) => !clock.gone);
  for (const row of [...place.children]) {
    if (!clocks.some(([id]) => id === row.dataset.id)) row.remove();
  }
  for (const [id, clock] of clocks) {
    let row = [...place.children].find((row) => row.dataset.id === id);
    if (!row) place.append((row = rowOf(id, clock)));
    tell(row, clock);
  }
  // What stays in sight stays below them.
  document.documentElement.style.setProperty("--strip", `${place.offsetHeight}px`);
}

function rowOf(id, clock) {
  const row = document.createElement("div");
  row.className = "clock";
  row.dataset.id = id;
  row.setAttribute("role", "group");
  row.setAttribute("aria-label", `Clock of ${clock.title}, ${clock.cup}`);
  const make = (name, words) => {
    const it = document.createElement(name === "stop" ? "button" : "p");
    it.className = name === "stop" ? "plain" : name;
    it.textContent = words;
    row.append(it);
    return it;
  };
  // The first pot is the only one mostly.
  make("whose", `${clock.title}: ${clock.cup.replace(/ 1$/, "")}`);
  make("left", "");
  make("next", "");
  const button = make("stop", "Stop");
  button.type = "button";
  // A wet glove touches more than it means to: it is asked twice.
  button.addEventListener("click", () => {
    quietUntil = Date.now() + RING_MS;
    if (button.dataset.sure) return stop(id);
    button.dataset.sure = "yes";
    button.textContent = "Really stop?";
    setTimeout(() => {
      delete button.dataset.sure;
      button.textContent = "Stop";
    }, 4000);
  });
  row.addEventListener("click", () => { quietUntil = Date.now() + RING_MS; });
  return row;
}

function tell(row, clock) {
  const now = Date.now();
  const stages = stagesOf(clock);
  const next = stages.find((stage) => stage.at > now);
  const last = stages.filter((stage) => stage.at <= now).pop();
  row.querySelector(".left").textContent = next ? time(next.at - now) : time(now - (last?.at ?? clock.begun));
  row.querySelector(".next").textContent = next ? `until: ${next.words}` : `ago: ${last?.words ?? "part A went in"}`;
  const isNear = next && next.at - now <= WARN_MS;
  const isThere = last && now - last.at <= RING_MS;
  row.classList.toggle("near", Boolean(isNear));
  row.classList.toggle("there", Boolean(isThere));
  const tick = Math.floor(now / 1000);
  if (isThere && now > quietUntil && tick % 2 === 0) ring(row, tick, 880, 3);
  else if (isNear && now > quietUntil && tick % 10 === 0) ring(row, tick, 660, 1);
  const marks = [10, 5, 2, 1].map((minutes) => minutes * MINUTE);
  const mark = next && marks.find((mark) => Math.abs(next.at - now - mark) < 700);
  const key = isThere ? `${last.words}!` : mark ? `${next.words} ${mark}` : "";
  if (key && row.dataset.told !== key) {
    row.dataset.told = key;
    const whose = `${clock.title}, ${clock.cup}`;
    say(isThere ? `${whose}: ${last.words} now` : `${whose}: ${mark / MINUTE} minutes until: ${next.words}`);
  }
  if (isThere || isNear) document.title = `${row.querySelector(".left").textContent} ${clock.title}`;
}

// Sound is let out only after a touch: browsers ask for that.
function wakeSound() {
  const Context = window.AudioContext;
  if (!Context) return;
  sound ??= new Context();
  sound.resume().catch(() => {});
}

function ring(row, tick, pitch, times) {
  if (row.dataset.rung === String(tick)) return;
  row.dataset.rung = String(tick);
  // Browsers let neither hand nor ear be reached before a touch.
  if (navigator.userActivation?.hasBeenActive) navigator.vibrate?.(Array(times).fill([200, 100]).flat());
  if (sound?.state !== "running") return;
  for (let index = 0; index < times; index += 1) {
    const [tone, volume] = [sound.createOscillator(), sound.createGain()];
    const at = sound.currentTime + index * 0.3;
    tone.type = "square";
    tone.frequency.value = pitch;
    volume.gain.setValueAtTime(0.4, at);
    volume.gain.exponentialRampToValueAtTime(0.001, at + 0.22);
    tone.connect(volume).connect(sound.destination);
    tone.start(at);
    tone.stop(at + 0.25);
  }
}

export function watchClocks() {
  if (!document.getElementById("clocks")) return;
  draw();
  fetchKept();
  setInterval(draw, 500);
  setInterval(fetchKept, FETCH_MS);
  document.addEventListener("visibilitychange", () => {
    draw();
    if (!document.hidden) fetchKept();
  });
  window.addEventListener("storage", draw);
  document.addEventListener("pointerdown", () => {
    if (Object.keys(all()).length) wakeSound();
  });
}
