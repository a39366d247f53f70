// Keeps the last answer of every screen in this browser, so that a reload while nobody serves still shows it. Who serves is asked
// first, always; what is kept answers only where nobody does. What changes something goes by untouched.
const KEPT = "dropwise/screens";
const MOST = 80;

self.addEventListener("install", () => self.skipWaiting());
self.addEventListener("activate", (event) => event.waitUntil(self.clients.claim()));

// A screen, or one of the files that it is made of. An address that brings a key along is never kept.
function isKept({ method, mode, url }) {
  const { origin, pathname, searchParams } = new URL(url);
  const isOwn = origin === self.location.origin && !searchParams.has("key");
  return method === "GET" && isOwn && (mode === "navigate" || pathname.startsWith("/files/"));
}

async function keep(request, answer) {
  // Where the key is no longer good, what it opened is not left lying about.
  if (answer.status === 403) return caches.delete(KEPT);
  if (answer.status !== 200 || answer.type !== "basic" || answer.redirected) return;
  const kept = await caches.open(KEPT);
  await kept.put(request.url, answer);
  const oldest = (await kept.keys()).slice(0, -MOST);
  await Promise.all(oldest.map((each) => kept.delete(each)));
}

async function answered(event) {
  const { request } = event;
  let answer;
  try {
    answer = await fetch(request);
  } catch {
    const kept = await (await caches.open(KEPT)).match(request.url);
    const words = "Nobody answers at this address, and this screen was not open here before. Start the program again, and reload.";
    return kept ?? new Response(words, { status: 503, headers: { "content-type": "text/plain; charset=utf-8" } });
  }
  event.waitUntil(keep(request, answer.clone()));
  return answer;
}

self.addEventListener("fetch", (event) => {
  if (isKept(event.request)) event.respondWith(answered(event));
});

// A screen that was open before this worker was says what it is made of.
self.addEventListener("message", (event) => {
  const urls = event.data.filter((url) => !new URL(url).searchParams.has("key"));
  event.waitUntil(Promise.all(urls.map(async (url) => keep({ url }, await fetch(url)).catch(() => {}))));
});
