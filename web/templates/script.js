(function () {
var d = document, s = d.getElementById("status"), p = d.querySelector(".problem[tabindex]"), q = d.querySelectorAll("[data-until]");
if (p) p.focus();
d.addEventListener("submit", function (e) {
if (e.target.dataset.sent) return e.preventDefault();
e.target.dataset.sent = 1; s.textContent = "Sending";
});
addEventListener("pageshow", function () {
d.querySelectorAll("form").forEach(function (f) { delete f.dataset.sent; }); s.textContent = "";
});
function tick() {
q.forEach(function (t) {
var left = Math.max(0, Math.ceil(t.dataset.until - Date.now() / 1000));
t.textContent = left ? Math.floor(left / 60) + ":" + ("0" + left % 60).slice(-2) + " left" : "Time is up";
});
}
if (q.length) { tick(); setInterval(tick, 1000); }
})();
