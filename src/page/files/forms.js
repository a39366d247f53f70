// A form that takes some seconds says so, and is sent once.
export function openForms() {
  for (const form of document.querySelectorAll("form")) {
    form.addEventListener("submit", (event) => {
      if (form.dataset.sent) return event.preventDefault();
      form.dataset.sent = "yes";
      form.classList.add("waits");
      const said = document.getElementById("said");
      if (said) said.textContent = form.dataset.waits ?? "Sent";
      if (event.submitter && form.dataset.waits) event.submitter.textContent = `${form.dataset.waits} …`;
    });
  }
  // A screen that comes back by the browser's own way may be sent again.
  window.addEventListener("pageshow", () => {
    for (const form of document.querySelectorAll("form[data-sent]")) {
      delete form.dataset.sent;
      form.classList.remove("waits");
    }
  });
}
