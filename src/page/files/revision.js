// Whether the book was changed under an open screen, and whether anybody answers: nothing is drawn anew by itself, since a hand may
// be in the midst of it.
const EVERY_MS = 5000;

export function watchRevision() {
  const notice = document.getElementById("changed");
  const away = document.getElementById("away");
  if (!notice) return;
  const look = async () => {
    if (document.hidden) return;
    try {
      const answer = await fetch("/revision", { cache: "no-store", signal: AbortSignal.timeout(EVERY_MS) });
      if (answer.ok) notice.hidden = (await answer.text()) === notice.dataset.revision;
      away.hidden = true;
    } catch {
      away.hidden = false;
    }
  };
  setInterval(look, EVERY_MS);
  document.addEventListener("visibilitychange", look);
  look();
}
