(function () {
var d = document, b = d.getElementById("ring"), a, rung = {};
b.hidden = false;
b.addEventListener("click", function () {
a = a || new AudioContext(); a.resume(); beep(); b.textContent = "This screen rings";
});
function beep() {
var o = a.createOscillator(), g = a.createGain();
o.frequency.value = 880; g.gain.setValueAtTime(.3, a.currentTime); g.gain.exponentialRampToValueAtTime(.001, a.currentTime + .8);
o.connect(g).connect(a.destination); o.start(); o.stop(a.currentTime + .8);
}
setInterval(function () {
if (a) d.querySelectorAll("[data-until]").forEach(function (t) {
var u = t.dataset.until;
if (u * 1000 < Date.now() && !rung[u]) { rung[u] = 1; beep(); }
});
}, 1000);
setInterval(function () {
fetch(location.href).then(function (r) { return r.text(); }).then(function (t) {
var n = new DOMParser().parseFromString(t, "text/html").querySelector("main");
d.querySelectorAll(".board, main > p, main > h1").forEach(function (e) { e.remove(); });
n.querySelectorAll(".board, main > p, main > h1").forEach(function (e) { b.before(e); });
}).catch(function () {});
}, 30000);
})();
