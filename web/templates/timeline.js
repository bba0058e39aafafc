(function p(n) {
if (!n) return;
var x = 340 * (Date.now() / 1e3 - n.dataset.from) / n.dataset.for;
n.setAttribute("d", x > 0 && x < 340 ? "M" + x + " 0V999" : "");
setTimeout(p, 2e4, n);
})(document.getElementById("now"));
