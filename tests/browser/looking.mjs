// What all checks in a browser do: they look at each screen, as it is drawn and by axe-core's rules, and tell all faults at the end.
import fs from "node:fs";
import path from "node:path";
import { createRequire } from "node:module";

const tools = createRequire(path.join(process.env.DROPWISE_BROWSER_TOOLS, "package.json"));
const { chromium } = tools("playwright-core");
const axe = fs.readFileSync(tools.resolve("axe-core/axe.min.js"), "utf8");
const faults = [];

export function must(holds, what) {
  if (!holds) faults.push(what);
}

// A browser of this `screen`, whose scripts' errors are faults.
export async function opened(browser, size, screen) {
  const context = await browser.newContext({ ...screen, isMobile: screen.hasTouch });
  const page = await context.newPage();
  page.on("pageerror", (error) => faults.push(`${size}: ${error.message}`));
  return { context, page };
}

// Keeps the picture of a screen in the folder `pictures`. A screen that is wider than its window is a fault, and so is what axe-core
// calls serious.
export async function look(page, size, screen, pictures) {
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

// Does `check` in a browser, tells its faults, and ends the program.
export async function inBrowser(check) {
  const browser = await chromium.launch({ executablePath: process.env.DROPWISE_CHROMIUM, args: ["--no-sandbox"] });
  try {
    await check(browser);
  } catch (error) {
    faults.push(error.stack);
  } finally {
    await browser.close();
  }
  for (const fault of faults) console.error(fault);
  process.exit(faults.length ? 1 : 0);
}
