// From a photograph to a logged casting, in Chromium at three sizes: node flow.mjs ADDRESS PHOTO BENCH PICTURES
// BENCH is a folder with what `scene.rs` draws: bench.png, chart.csv, chips.csv, places.json. Fails where a step does, or as in `looking.mjs`,
// or where the first view is heavier than 200 kB. What is timed is printed, not judged: machines are noisy.
import fs from "node:fs";
import path from "node:path";
import { inBrowser, look, must, opened } from "./looking.mjs";

const [address, photo, bench, pictures] = process.argv.slice(2);
// Left, top, width and height of what lies in bench.png.
const places = JSON.parse(fs.readFileSync(path.join(bench, "places.json")));
// Clear of the edges, as a hand draws it.
const within = ([left, top, width, height]) => [left + 20, top + 20, width - 40, height - 40];

const sizes = [
  { size: "phone", viewport: { width: 390, height: 844 }, hasTouch: true, colorScheme: "light" },
  { size: "tablet", viewport: { width: 820, height: 1180 }, hasTouch: true, colorScheme: "dark" },
  { size: "desk", viewport: { width: 1440, height: 900 }, hasTouch: false, colorScheme: "light" },
];
async function firstView(page, size) {
  let bytes = 0;
  page.on("response", async (response) => {
    const body = await response.body().catch(() => Buffer.alloc(0));
    bytes += body.length;
  });
  await page.goto(address);
  await page.waitForTimeout(300);
  // From the touch on, as the browser itself tells: once something is to be read, and once all of it is there.
  const [painted, loaded] = await page.evaluate(() => [
    performance.getEntriesByName("first-contentful-paint")[0]?.startTime ?? NaN,
    performance.getEntriesByType("navigation")[0].loadEventEnd,
  ]);
  const times = `shown after ${painted.toFixed(0)} ms, whole after ${loaded.toFixed(0)} ms`;
  console.log(`${size}: first view ${times}, ${(bytes / 1000).toFixed(1)} kB`);
  must(bytes <= 200_000, `${size}: the first view is ${bytes} bytes`);
  page.removeAllListeners("response");
}

// Keeps the document of `url` as it is served, for the checker of HTML.
async function keep(url, name) {
  fs.writeFileSync(path.join(pictures, `${name}.html`), await (await fetch(url)).text());
}

// The way of a pointer over the photograph, in the photograph's own pixels.
async function over(page) {
  const at = await page.locator("#photo-canvas").evaluate(async (canvas) => {
    canvas.scrollIntoView({ block: "center" });
    const { x, y, width } = canvas.getBoundingClientRect();
    const picture = await createImageBitmap(document.getElementById("photo-file").files[0]);
    return { x, y, scale: width / picture.width };
  });
  return (x, y) => page.mouse.move(at.x + x * at.scale, at.y + y * at.scale);
}

async function choose(page, file) {
  await page.setInputFiles("#photo-file", file);
  await page.waitForSelector("#photo-boxes:not([hidden])");
  await page.waitForTimeout(500);
}

// Drags a box over the photograph.
async function drag(page, [left, top, width, height]) {
  const to = await over(page);
  await to(left, top);
  await page.mouse.down();
  await to(left + width / 2, top + height / 2);
  await to(left + width, top + height);
  await page.mouse.up();
}

// Sets the four corners of `field`, the last but one anew after a slip; `seen` is called while the loupe is there.
async function corners(page, field, [left, top, width, height], seen = async () => {}) {
  await page.check(`[name=draws][value=${field}]`);
  const to = await over(page);
  const places = [[left, top], [left + width, top], [left + width - 40, top + height - 30], [left, top + height]];
  for (const [index, [x, y]] of places.entries()) {
    await to(x + 12, y + 9);
    await page.mouse.down();
    await to(x, y);
    if (index === 1) {
      must(await page.isVisible("#photo-loupe"), `${field}: no loupe`);
      await seen();
    }
    await page.mouse.up();
  }
  await to(left + width - 40, top + height - 30);
  await page.mouse.down();
  await to(left + width, top + height);
  await page.mouse.up();
  const set = (await page.inputValue(`#photo-typed [name=${field}]`)).split(",").map(Number);
  const wanted = [left, top, left + width, top, left + width, top + height, left, top + height];
  const isNear = set.length === 8 && set.every((value, index) => Math.abs(value - wanted[index]) <= 6);
  must(isNear, `${field}: corners at ${set}`);
}

// What `drag` and `corners` do, by keys alone: the arrows go in strides of a fiftieth of the picture, with Shift by single pixels.
async function byKeys(page, { skin: [left, top, width, height], chart }) {
  const [wide, high] = await page.evaluate(async () => {
    const picture = await createImageBitmap(document.getElementById("photo-file").files[0]);
    return [picture.width, picture.height];
  });
  const stride = Math.round(Math.max(wide, high) / 50);
  let at = [Math.round(wide / 2), Math.round(high / 2)];
  const walk = async (to) => {
    for (const [axis, [back, on]] of [["ArrowLeft", "ArrowRight"], ["ArrowUp", "ArrowDown"]].entries()) {
      const far = Math.abs(to[axis] - at[axis]);
      const key = to[axis] < at[axis] ? back : on;
      for (let pressed = 0; pressed < Math.floor(far / stride); pressed++) await page.keyboard.press(key);
      for (let pressed = 0; pressed < far % stride; pressed++) await page.keyboard.press(`Shift+${key}`);
    }
    at = to;
  };
  await page.check("[name=draws][value=skin]");
  await page.focus("#photo-canvas");
  await walk([left + 9, top + 9]);
  await page.keyboard.press("Enter");
  await walk([left + width, top + height]);
  await page.keyboard.press("Escape");
  must((await page.inputValue("#photo-typed [name=skin]")) === "", "Escape leaves no box");
  await walk([left, top]);
  await page.keyboard.press("Enter");
  await walk([left + width, top + height]);
  await page.keyboard.press("Enter");
  await page.check("[name=draws][value=chart]");
  await page.focus("#photo-canvas");
  const [x, y, w, h] = chart;
  for (const corner of [[x, y], [x + w, y], [x + w, y + h], [x, y + h]]) {
    await walk(corner);
    must(await page.isVisible("#photo-loupe"), "keys have no loupe");
    await page.keyboard.press("Enter");
  }
  const set = await Promise.all(["skin", "chart"].map((field) => page.inputValue(`#photo-typed [name=${field}]`)));
  const wanted = [[left, top, width, height], [x, y, x + w, y, x + w, y + h, x, y + h]].map(String);
  must(String(set) === String(wanted), `by keys: ${set}, not ${wanted}`);
}

// A photograph of this size's own: one that was read is refused when it comes again.
function own(size, what) {
  const file = path.join(bench, `${what}-${size}.png`);
  fs.copyFileSync(path.join(bench, "bench.png"), file);
  return file;
}

async function withChart(page) {
  await page.click(".chart-values summary");
  await page.setInputFiles("[name=chart_values]", path.join(bench, "chart.csv"));
}

// A tone beside a chart whose corners are set under the loupe.
async function tone(page, size) {
  await page.goto(`${address}tone`);
  await choose(page, path.join(bench, "bench.png"));
  await page.check("[name=beside][value=chart]");
  if (size === "desk") await byKeys(page, { skin: within(places.skin), chart: places.chart });
  await page.check("[name=draws][value=skin]");
  await drag(page, within(places.skin));
  await corners(page, "chart", places.chart, () => look(page, size, "loupe", pictures));
  await withChart(page);
  await page.click("#photo-form button.first");
  await page.waitForSelector("img.seen", { timeout: 60_000 });
  must(await page.evaluate(() => document.querySelector("img.seen").naturalWidth > 0), `${size}: no corrected picture`);
  await page.locator("img.seen").scrollIntoViewIfNeeded();
  await look(page, size, "corrected", pictures);
}

// The chip of a part off a photograph, into the log.
async function chip(page, size, part) {
  await page.goto(`${part}compare`);
  await page.click("text=Off a photograph instead");
  await choose(page, own(size, "chip"));
  await drag(page, within(places.chip));
  await corners(page, "chart", places.chart);
  await page.check("[name=stage][value=part]");
  await withChart(page);
  await look(page, size, "chip-photo", pictures);
  await page.click("#photo-form button.first");
  await page.waitForSelector("[name=camera]", { state: "attached", timeout: 60_000 });
  await look(page, size, "chip-read", pictures);
  await page.click("text=Only log the reading");
  await page.waitForSelector("text=Logged as", { timeout: 60_000 });
}

// A board of chips off a photograph of its own.
async function board(page, size) {
  await page.goto(`${address}board/photo`);
  await choose(page, own(size, "board"));
  await corners(page, "grid", places.board);
  await corners(page, "chart", places.chart);
  await withChart(page);
  await page.setInputFiles("[name=chips]", path.join(bench, "chips.csv"));
  await look(page, size, "board-photo", pictures);
  await page.click("#photo-form button.first");
  await page.waitForSelector("table", { timeout: 60_000 });
  must((await page.innerText("main")).includes("8 readings"), `${size}: not all chips were read`);
  await look(page, size, "board", pictures);
}

// The colour under lights that are ticked.
async function lights(page, size, part) {
  await page.goto(`${part}why`);
  await page.click("text=Choose the lights");
  for (const light of ["A", "LED-B3", "FL11"]) await page.check(`[name="${light}"]`);
  await page.click("text=Look under these");
  await page.waitForSelector(".lights figure >> nth=2");
  await page.locator("#lights").scrollIntoViewIfNeeded();
  await look(page, size, "lights", pictures);
}

// Taps through the cups until part A is in, and says how many taps that took.
async function pour(page) {
  for (let taps = 1; taps < 400; taps += 1) {
    const act = await page.getAttribute("#bench-step", "data-act");
    await page.waitForTimeout(act === "count" ? 120 : 900);
    await page.click("#bench-pad");
    if (act === "start") return taps;
  }
  throw new Error("no cup came to its part A");
}

async function flow(browser, { size, ...screen }) {
  const { context, page } = await opened(browser, size, screen);
  await firstView(page, size);
  await page.goto(`${address}tone`);
  await choose(page, photo);
  await drag(page, [640, 690, 760, 120]);
  await drag(page, [310, 240, 330, 160]);
  await look(page, size, "photo", pictures);
  await page.click("#photo-form button.first");
  await page.waitForSelector("[name=base_g]");
  await look(page, size, "tone", pictures);
  const name = `${size} arm`;
  for (const [field, value] of [["name", name], ["base_g", "200"], ["foam_g", "100"], ["fibre_g", "4"]]) {
    await page.fill(`[name=${field}]`, value);
  }
  await page.click("form[action='/parts'] button.first");
  await page.waitForURL("**/pour", { timeout: 60_000 });
  await look(page, size, "pour", pictures);
  await page.click("#begin");
  await page.waitForTimeout(500);
  await look(page, size, "step", pictures);
  console.log(`${size}: ${await pour(page)} taps to part A`);
  await page.waitForTimeout(900);
  must((await page.textContent("#clocks")).trim() !== "", `${size}: no clock runs`);
  await look(page, size, "clock", pictures);
  // Nobody answers: taps go on, and the clock is there again after a reload.
  await context.setOffline(true);
  const shown = async () => (await page.textContent("#bench-at")) + (await page.textContent("#bench-pad"));
  const before = await shown();
  await page.waitForTimeout(900);
  await page.click("#bench-pad");
  await page.waitForTimeout(400);
  must((await shown()) !== before, `${size}: a tap was lost`);
  await context.setOffline(false);
  await page.reload();
  await page.waitForTimeout(900);
  must((await page.textContent("#clocks")).trim() !== "", `${size}: the clock is gone after a reload`);
  const part = `${address}parts/${encodeURIComponent(name)}/`;
  await page.goto(`${part}compare`);
  for (const [field, value] of [["l", "63.5"], ["a", "12"], ["b", "15"]]) {
    await page.fill(`[name=${field}]`, value);
  }
  await page.waitForTimeout(700);
  await look(page, size, "compare", pictures);
  await page.click("button:text-is('What now?')");
  await page.waitForSelector(".verdict", { timeout: 60_000 });
  await look(page, size, "answer", pictures);
  must(/log/i.test(await page.innerText("main")), `${size}: the casting was not logged`);
  await page.goto(`${part}why`);
  const told = await page.textContent("#nudged");
  await page.click("#nudge button[data-by='1'] >> nth=0");
  await page.waitForFunction((was) => document.getElementById("nudged").textContent !== was, told);
  await look(page, size, "why", pictures);
  await lights(page, size, part);
  await chip(page, size, part);
  await board(page, size);
  await tone(page, size);
  await page.goto(address);
  must((await page.innerText("main")).includes(name), `${size}: today does not show the part`);
  await look(page, size, "today", pictures);
  if (size === "desk") {
    for (const screen of ["pour", "compare", "why", "photo"]) await keep(`${part}${screen}`, screen);
    for (const screen of ["tone", "next"]) await keep(`${address}${screen}`, screen);
    await keep(`${address}board/photo`, "board");
    await keep(address, "today");
  }
  await context.close();
}

await inBrowser(async (browser) => {
  for (const size of sizes) await flow(browser, size);
});
