// In a demo shop: the signing panel offers to fill in the badge and PIN that the
// visitor took in hand at the demo's desk. Signing is still theirs to press.
const form = document.getElementById("sign-form");
let hand = null;
try { hand = JSON.parse(sessionStorage.getItem("demo-hand")); } catch { /* none in hand */ }

if (form && hand) {
  const button = document.createElement("button");
  button.type = "button";
  button.dataset.demoHand = "";
  button.textContent = `Fill in ${hand.name}`;
  button.title = "Demo: the badge and the PIN you took at the demo's desk";
  button.addEventListener("click", () => {
    const badge = document.getElementById("badge"), pin = document.getElementById("pin");
    badge.value = hand.badge;
    badge.dispatchEvent(new Event("input", { bubbles: true }));
    pin.value = hand.pin; // without its event: six digits typed would sign at once
    form.querySelector("button[type=submit]").focus();
  });
  form.prepend(button);
}
