(function () {
var d = document, s = d.getElementById("status"), g = d.getElementById("again"), L = "panadier-unsent", n = 0, busy, t;
function kept() { try { return JSON.parse(localStorage[L]); } catch (e) {} }
function keep(x) { try { localStorage[L] = JSON.stringify(x); } catch (e) {} }
function plain(x) {
var f = d.createElement("form");
f.method = "post"; f.action = x.u; f.hidden = 1;
new URLSearchParams(x.b).forEach(function (v, k) {
var i = d.createElement("input"); i.name = k; i.value = v; f.append(i);
});
d.body.append(f); f.submit();
}
function send(x) {
if (busy) return;
clearTimeout(t); busy = 1;
var c = new AbortController(), k = setTimeout(function () { c.abort(); }, 8000);
fetch(x.u, {method: "POST", body: new URLSearchParams(x.b), headers: {"Panadier-Script": 1}, signal: c.signal}).then(function (r) {
var to = r.headers.get("Panadier-Next");
clearTimeout(k); keep(0);
if (to) { location = to; if (/#/.test(to)) location.reload(); } else plain(x);
}, function () {
clearTimeout(k); busy = 0;
s.textContent = "Not saved yet. Trying again.";
g.hidden = 0; g.onclick = function () { send(x); };
t = setTimeout(send, 1000 * [1, 2, 4, 8, 15][Math.min(n++, 4)], x);
});
}
function retry() { var x = kept(); if (x && !d.hidden) { s.textContent = "Sending what you told"; send(x); } }
d.addEventListener("submit", function (e) {
var f = e.target, b = e.submitter, w = new FormData(f), x;
if (f.method != "post" || f.enctype[0] == "m") return;
e.preventDefault();
if (f.sent) return;
f.sent = 1;
if (b && b.name) w.append(b.name, b.value);
x = {u: f.action, b: new URLSearchParams(w) + ""};
s.textContent = "Sending"; keep(x); send(x);
});
addEventListener("pageshow", function () {
d.querySelectorAll("form").forEach(function (f) { f.sent = 0; });
busy = 0; s.textContent = ""; g.hidden = 1; retry();
});
addEventListener("online", retry);
d.addEventListener("visibilitychange", retry);
var p = d.querySelector(".problem[tabindex]");
if (p) p.focus();
})();
