// What a browser keeps while nobody serves: node asleep.mjs DROPWISE BOOK PART PICTURES
// The program is ended in the midst of a pour. A reload shows the screen and what was counted, what is sent waits until somebody
// serves again, and no address with a key is kept. Fails where a step does, or as in `looking.mjs`.
import { spawn } from "node:child_process";
import { createInterface } from "node:readline";
import { inBrowser, look, must, opened } from "./looking.mjs";

const [dropwise, book, part, pictures] = process.argv.slice(2);
const screen = { viewport: { width: 390, height: 844 }, hasTouch: true };

// Serves the book at `port`, or any free one; with its address once it listens.
async function served(port, ...more) {
  const words = ["serve", "--port", String(port), "--json", "--book", book, ...more];
  const server = spawn(dropwise, words, { stdio: ["ignore", "pipe", "inherit"] });
  for await (const line of createInterface({ input: server.stdout })) return { server, ...JSON.parse(line) };
  throw new Error("it does not listen");
}

async function ended(server) {
  const isGone = new Promise((gone) => server.once("exit", gone));
  server.kill("SIGKILL");
  await isGone;
}

const kept = (page) => page.evaluate(async () => {
  const names = await caches.keys();
  const stores = await Promise.all(names.map((name) => caches.open(name)));
  return (await Promise.all(stores.map((store) => store.keys()))).flat().map((request) => request.url);
});

async function asleep(browser) {
  const { context, page } = await opened(browser, "asleep", screen);
  let { server, address } = await served(0);
  const { port } = new URL(address);
  const of = (screen) => `${address}parts/${encodeURIComponent(part)}/${screen}`;
  await page.goto(address);
  await page.waitForFunction(() => navigator.serviceWorker.controller);
  await page.goto(of("compare"));
  await page.goto(of("pour"));
  await page.click("#begin");
  const shown = () => page.textContent("#bench-pad");
  // To the first dose that is counted, and two drops of it.
  while ((await page.getAttribute("#bench-step", "data-act")) !== "count") {
    await page.waitForTimeout(900);
    await page.click("#bench-next");
  }
  await page.waitForTimeout(900);
  await page.click("#bench-pad");
  await page.waitForTimeout(900);
  const counted = await shown();
  await ended(server);
  await page.reload();
  await page.waitForSelector("#bench:not([hidden])");
  must((await shown()) === counted, `a reload lost what was counted: ${counted}, then ${await shown()}`);
  await page.waitForTimeout(900);
  await page.click("#bench-pad");
  await page.waitForTimeout(300);
  must((await shown()) !== counted, "a tap was lost");
  await page.click("#bench-list");
  await page.waitForSelector("#away:not([hidden])", { timeout: 15_000 });
  await look(page, "asleep", "away", pictures);
  await page.goto(`${address}next`);
  must((await page.innerText("body")).includes("Nobody answers"), "a screen that was never open says so");
  await page.goto(of("compare"));
  const typed = [["l", "63.5"], ["a", "12"], ["b", "15"]];
  for (const [field, value] of typed) await page.fill(`[name=${field}]`, value);
  await page.reload();
  for (const [field, value] of typed) must((await page.inputValue(`[name=${field}]`)) === value, `a reload lost ${field}`);
  await page.click("text=Only log the reading");
  await page.waitForSelector("text=This is sent as soon as somebody does");
  await look(page, "asleep", "waiting", pictures);
  ({ server } = await served(port));
  await page.waitForSelector("text=Logged as", { timeout: 60_000 });
  await page.goto(of("compare"));
  must((await page.inputValue("[name=l]")) === "", "what was sent comes back");
  await ended(server);
  await context.close();
}

// Opened by a key, at this machine: the key is kept nowhere, and once it is no longer good nothing is.
async function locked(browser) {
  const { context, page } = await opened(browser, "locked", screen);
  let { server, address } = await served(0, "--lan=127.0.0.1");
  const { origin, port } = new URL(address);
  await page.goto(address);
  await page.waitForFunction(() => navigator.serviceWorker.controller);
  await page.goto(`${origin}/tone`);
  await page.waitForTimeout(500);
  const before = await kept(page);
  must(before.length > 5, `too little is kept: ${before}`);
  must(before.every((url) => new URL(url).search === ""), `a key is kept: ${before}`);
  await ended(server);
  ({ server } = await served(port, "--lan=127.0.0.1"));
  await page.goto(`${origin}/tone`);
  must((await page.innerText("body")).includes("key"), "the old key still opens");
  await page.waitForTimeout(500);
  const after = await kept(page);
  must(after.length === 0, `kept with a key that is no longer good: ${after}`);
  await ended(server);
  await context.close();
}

await inBrowser(async (browser) => {
  await asleep(browser);
  await locked(browser);
});
