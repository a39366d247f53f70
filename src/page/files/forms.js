// A form that takes some seconds says so, and is sent once. Where nobody answers it waits, as it is, until somebody does: a touch
// is not lost because the machine slept.
import { forgetDraft } from "./drafts.js";
import { somebodyAnswers } from "./offline.js";
import { say } from "./store.js";

const WITHIN_MS = 4000;
const AGAIN_MS = 2000;

export function openForms() {
  for (const form of document.querySelectorAll('form[method="post"]')) {
    form.addEventListener("submit", (event) => {
      event.preventDefault();
      if (!form.dataset.sent) send(form, event.submitter);
    });
  }
  // A screen that comes back by the browser's own way may be sent again.
  window.addEventListener("pageshow", () => document.querySelectorAll("form[data-sent]").forEach(free));
}

function free(form) {
  delete form.dataset.sent;
  form.classList.remove("waits");
}

async function send(form, button) {
  form.dataset.sent = "yes";
  if (!(await somebodyAnswers(WITHIN_MS)) && !(await somebodyLater(form))) return free(form);
  form.classList.add("waits");
  say(form.dataset.waits ?? "Sent");
  if (button && form.dataset.waits) button.textContent = `${form.dataset.waits} …`;
  if (button?.name) {
    const pressed = document.createElement("input");
    Object.assign(pressed, { type: "hidden", name: button.name, value: button.value });
    form.append(pressed);
  }
  forgetDraft(form);
  form.submit();
}

// Waits until somebody answers; false where it is not to be sent any more.
async function somebodyLater(form) {
  const notice = document.createElement("div");
  notice.className = "notice";
  notice.setAttribute("role", "alert");
  const words = document.createElement("p");
  words.textContent = "Nobody answers just now. This is sent as soon as somebody does: leave the screen open.";
  const stop = document.createElement("button");
  Object.assign(stop, { type: "button", className: "plain", textContent: "Do not send it" });
  notice.append(words, stop);
  form.append(notice);
  notice.scrollIntoView({ block: "nearest" });
  let isStopped = false;
  stop.addEventListener("click", () => { isStopped = true; });
  let answers = false;
  while (!isStopped && !answers) {
    await new Promise((after) => setTimeout(after, AGAIN_MS));
    answers = await somebodyAnswers(WITHIN_MS);
  }
  notice.remove();
  return answers && !isStopped;
}
