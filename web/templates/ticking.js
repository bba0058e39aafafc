(function () {
function tick() {
document.querySelectorAll("[data-until]").forEach(function (e) {
var l = Math.max(0, Math.ceil(e.dataset.until - Date.now() / 1000)), h = Math.floor(l / 3600), m = Math.floor(l / 60) % 60;
e.textContent = l ? (h ? h + ":" + ("0" + m).slice(-2) : m) + ":" + ("0" + l % 60).slice(-2) + " left" : "Time is up";
});
}
tick(); setInterval(tick, 1000);
})();
