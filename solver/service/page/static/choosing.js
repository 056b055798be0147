// Choosing solutions to compare: the bar tells how many are chosen, and no more than four can be.

const boxes = () => [...document.querySelectorAll('#results input[type="checkbox"][name="compare"]')];

function tell() {
  const bar = document.getElementById("choosing");
  if (!bar) return;
  const most = Number(bar.dataset.most);
  const elsewhere = Number(bar.dataset.elsewhere);
  const all = boxes();
  const chosen = all.filter((box) => box.checked).length + elsewhere;
  for (const box of all) box.disabled = chosen >= most && !box.checked;
  const button = document.getElementById("compare");
  button.textContent = chosen ? `Compare (${chosen})` : "Compare";
  button.disabled = chosen === 0;
  bar.classList.toggle("chosen", chosen > 0);
  const beside = elsewhere ? `; ${elsewhere} of them ${elsewhere === 1 ? "is" : "are"} not shown here` : "";
  const text = chosen === 0
    ? "Choose up to four to see them side by side."
    : chosen >= most
      ? `${most} are chosen, which is the most${beside}.`
      : `${chosen} of up to ${most} chosen${beside}.`;
  const told = document.getElementById("chosen");
  if (told.textContent !== text) told.textContent = text;
}

document.addEventListener("change", (event) => {
  if (event.target.matches('#results input[name="compare"]')) tell();
});
// The table is taken anew while a job goes on, and browsers put boxes back late.
new MutationObserver((changes) => {
  if (changes.some((change) => [...change.addedNodes].some((node) => node.id === "results"))) tell();
}).observe(document.getElementById("main"), { childList: true });
window.addEventListener("pageshow", () => setTimeout(tell, 0));
tell();
