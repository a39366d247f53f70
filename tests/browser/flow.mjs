// From a photograph to a logged casting, in Chromium at three sizes: node flow.mjs ADDRESS PHOTO PICTURES
// Fails where a step does, where axe-core finds a serious fault, where a screen is wider than its window, or where the first
// view is heavier than 200 kB. What is timed is printed, not judged: machines are noisy.
import fs from "node:fs";
import path from "node:path";
import { createRequire } from "node:module";

const [address, photo, pictures] = process.argv.slice(2);
const tools = createRequire(path.join(process.env.DROPWISE_BROWSER_TOOLS, "package.json"));
const { chromium } = tools("playwright-core");
const axe = fs.readFileSync(tools.resolve("axe-core/axe.min.js"), "utf8");

const sizes = [
  { size: "phone", viewport: { width: 390, height: 844 }, hasTouch: true, colorScheme: "light" },
  { size: "tablet", viewport: { width: 820, height: 1180 }, hasTouch: true, colorScheme: "dark" },
  { size: "desk", viewport: { width: 1440, height: 900 }, hasTouch: false, colorScheme: "light" },
];
const faults = [];

function must(holds, what) {
  if (!holds) faults.push(what);
}

async function firstView(page, size) {
  let bytes = 0;
  page.on("response", async (response) => {
    const body = await response.body().catch(() => Buffer.alloc(0));
    bytes += body.length;
  });
  const begun = Date.now();
  await page.goto(address);
  const took = Date.now() - begun;
  await page.waitForTimeout(300);
  console.log(`${size}: first view ${took} ms, ${(bytes / 1000).toFixed(1)} kB`);
  must(bytes <= 200_000, `${size}: the first view is ${bytes} bytes`);
  page.removeAllListeners("response");
}

// Keeps the document of `url` as it is served, for the checker of HTML.
async function keep(url, name) {
  fs.writeFileSync(path.join(pictures, `${name}.html`), await (await fetch(url)).text());
}

async function look(page, size, screen) {
  await page.screenshot({ path: path.join(pictures, `${screen}-${size}.png`) });
  const over = await page.evaluate(() => document.documentElement.scrollWidth - innerWidth);
  must(over <= 0, `${size}, ${screen}: ${over} pixels too wide`);
  const found = await page.evaluate(async (text) => {
    // The policy forbids scripts in the page; what the test brings is run as a function.
    if (!window.axe) (0, Function)(text).call(window);
    const { violations } = await window.axe.run();
    const grave = violations.filter((each) => ["serious", "critical"].includes(each.impact));
    return grave.map((each) => `${each.id} at ${each.nodes.map((node) => node.target.join(" ")).join(", ")}`);
  }, axe);
  for (const fault of found) faults.push(`${size}, ${screen}: ${fault}`);
}

// Drags a box over the photograph, in its own pixels.
async function drag(page, [left, top, width, height]) {
  const at = await page.locator("#photo-canvas").evaluate(async (canvas) => {
    canvas.scrollIntoView({ block: "center" });
    const { x, y, width } = canvas.getBoundingClientRect();
    const picture = await createImageBitmap(document.getElementById("photo-file").files[0]);
    return { x, y, scale: width / picture.width };
  });
  const to = (x, y) => page.mouse.move(at.x + x * at.scale, at.y + y * at.scale);
  await to(left, top);
  await page.mouse.down();
  await to(left + width / 2, top + height / 2);
  await to(left + width, top + height);
  await page.mouse.up();
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
  const context = await browser.newContext({ ...screen, isMobile: screen.hasTouch });
  const page = await context.newPage();
  page.on("pageerror", (error) => faults.push(`${size}: ${error.message}`));
  await firstView(page, size);
  await page.goto(`${address}tone`);
  await page.setInputFiles("#photo-file", photo);
  await page.waitForSelector("#photo-boxes:not([hidden])");
  await page.waitForTimeout(500);
  await drag(page, [640, 690, 760, 120]);
  await drag(page, [310, 240, 330, 160]);
  await look(page, size, "photo");
  await page.click("#photo-form button.first");
  await page.waitForSelector("[name=base_g]");
  await look(page, size, "tone");
  const name = `${size} arm`;
  for (const [field, value] of [["name", name], ["base_g", "200"], ["foam_g", "100"], ["fibre_g", "4"]]) {
    await page.fill(`[name=${field}]`, value);
  }
  await page.click("form[action='/parts'] button.first");
  await page.waitForURL("**/pour", { timeout: 60_000 });
  await look(page, size, "pour");
  await page.click("#begin");
  await page.waitForTimeout(500);
  await look(page, size, "step");
  console.log(`${size}: ${await pour(page)} taps to part A`);
  await page.waitForTimeout(900);
  must((await page.textContent("#clocks")).trim() !== "", `${size}: no clock runs`);
  await look(page, size, "clock");
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
  await look(page, size, "compare");
  await page.click("button:text-is('What now?')");
  await page.waitForSelector(".verdict", { timeout: 60_000 });
  await look(page, size, "answer");
  must(/log/i.test(await page.innerText("main")), `${size}: the casting was not logged`);
  await page.goto(`${part}why`);
  const told = await page.textContent("#nudged");
  await page.click("#nudge button[data-by='1'] >> nth=0");
  await page.waitForFunction((was) => document.getElementById("nudged").textContent !== was, told);
  await look(page, size, "why");
  await page.goto(address);
  must((await page.innerText("main")).includes(name), `${size}: today does not show the part`);
  await look(page, size, "today");
  if (size === "desk") {
    for (const screen of ["pour", "compare", "why"]) await keep(`${part}${screen}`, screen);
    for (const screen of ["tone", "next"]) await keep(`${address}${screen}`, screen);
    await keep(address, "today");
  }
  await context.close();
}

const browser = await chromium.launch({ executablePath: process.env.DROPWISE_CHROMIUM, args: ["--no-sandbox"] });
try {
  for (const size of sizes) await flow(browser, size);
} finally {
  await browser.close();
}
for (const fault of faults) console.error(fault);
process.exit(faults.length ? 1 : 0);
