// Before the modules are there: a tap that comes early is kept and done when they are, never lost and never sent as a
// plain form.

(() => {
  let ready = false;
  const waiting = [];
  const hold = (event) => {
    if (ready) return;
    const what = event.target.closest(event.type === "submit" ? "form:not([method])" : "button[type=button]");
    if (!what) return;
    event.preventDefault();
    event.stopPropagation();
    waiting.push(() => (event.type === "submit" ? what.requestSubmit(event.submitter) : what.click()));
  };
  addEventListener("submit", hold, true);
  addEventListener("click", hold, true);
  addEventListener("DOMContentLoaded", () => {
    ready = true;
    waiting.forEach((act) => act());
  });
})();
