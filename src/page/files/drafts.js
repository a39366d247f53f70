// What is typed or chosen on a form stays there over a reload, or while the telephone was put away, until it is sent. It is kept for
// this screen in this window alone, and only as long as the screen offers the same to begin with.
const TYPED = 'input:not([type="hidden"]):not([type="file"]):not([type="submit"]), select, textarea';

const isChosen = (field) => field.type === "radio" || field.type === "checkbox";
const first = (field) => (isChosen(field) ? field.defaultChecked : field.defaultValue);
const now = (field) => (isChosen(field) ? field.checked : field.value);

export function openDrafts() {
  for (const [index, form] of document.querySelectorAll('form[method="post"]').entries()) {
    const key = (form.dataset.draft = `draft ${location.pathname} ${index} ${form.action}`);
    const fields = () => [...form.querySelectorAll(TYPED)];
    bringBack(fields(), read(key));
    const keep = () => write(key, fields().map((field) => [field.name, first(field), now(field)]));
    form.addEventListener("input", keep);
    form.addEventListener("change", keep);
  }
}

// A form that is sent is no draft.
export function forgetDraft(form) {
  if (form.dataset.draft) write(form.dataset.draft, null);
}

function bringBack(fields, kept) {
  if (kept?.length !== fields.length) return;
  const isSame = fields.every((field, at) => field.name === kept[at][0] && (first(field) ?? null) === kept[at][1]);
  if (!isSame) return;
  for (const [at, field] of fields.entries()) {
    const value = kept[at][2];
    if (value === now(field)) continue;
    field[isChosen(field) ? "checked" : "value"] = value;
    field.dispatchEvent(new Event("input", { bubbles: true }));
  }
}

// A browser that keeps nothing forgets it with the screen.
function read(key) {
  try {
    return JSON.parse(sessionStorage.getItem(key));
  } catch {
    return null;
  }
}

function write(key, draft) {
  try {
    if (draft) sessionStorage.setItem(key, JSON.stringify(draft));
    else sessionStorage.removeItem(key);
  } catch { /* kept nowhere */ }
}
