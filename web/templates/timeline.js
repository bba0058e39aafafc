(function () {
var n = document.getElementById("now");
if (!n) return;
function put() {
var f = +n.dataset.from, t = +n.dataset.to, x = 340 * (Date.now() / 1000 - f) / (t - f);
n.setAttribute("visibility", x >= 0 && x <= 340 ? "visible" : "hidden");
n.setAttribute("transform", "translate(" + x.toFixed(1) + ")");
}
put(); setInterval(put, 20000);
})();
