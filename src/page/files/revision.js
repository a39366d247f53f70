// Whether the book was changed under an open screen: nothing is drawn anew by itself, since a hand may be in the midst of it.
const EVERY_MS = 5000;

export function watchRevision() {
  const notice = document.getElementById("changed");
  if (!notice) return;
  const look = async () => {
    if (document.hidden) return;
    try {
      const answer = await fetch("/revision", { cache: "no-store" });
      if (answer.ok) notice.hidden = (await answer.text()) === notice.dataset.revision;
    } catch { /* nobody answers: what is open goes on working */ }
  };
  setInterval(look, EVERY_MS);
  document.addEventListener("visibilitychange", look);
  look();
}
