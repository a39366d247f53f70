// Has this browser keep what was open, where it lets a page do so: at this machine's own address, not across the network, where
// nothing is encrypted.
export async function keepScreens() {
  const workers = navigator.serviceWorker;
  if (!workers) return;
  const isFirst = !workers.controller;
  try {
    await workers.register("/worker.js");
    const { active } = await workers.ready;
    if (!isFirst) return;
    const loaded = performance.getEntriesByType("resource").map((each) => each.name);
    active.postMessage([location.href, ...loaded.filter((url) => new URL(url).pathname.startsWith("/files/"))]);
  } catch { /* this browser keeps nothing: the screen that is open goes on all the same */ }
}

// Whether somebody answers, within so many ms.
export async function somebodyAnswers(withinMs) {
  try {
    return (await fetch("/revision", { cache: "no-store", signal: AbortSignal.timeout(withinMs) })).ok;
  } catch {
    return false;
  }
}
