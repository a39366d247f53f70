// What is kept in this browser: it outlives a reload, a locked screen and a server that sleeps.
// Where a browser keeps nothing, it is kept for as long as the screen is open.
const memory = new Map();

export function load(key, otherwise) {
  try {
    const text = localStorage.getItem(key);
    if (text !== null) return JSON.parse(text);
  } catch { /* kept nowhere, or no longer readable */ }
  return memory.has(key) ? memory.get(key) : otherwise;
}

export function keep(key, value) {
  memory.set(key, value);
  try {
    localStorage.setItem(key, JSON.stringify(value));
  } catch { /* memory has it */ }
}

export function forget(key) {
  memory.delete(key);
  try {
    localStorage.removeItem(key);
  } catch { /* memory had it alone */ }
}

// Says `words` to who listens to the screen.
export function say(words) {
  const said = document.getElementById("said");
  if (said) said.textContent = words;
}
