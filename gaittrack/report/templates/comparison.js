"use strict";
(function () {
  var steps = document.getElementById("show-steps");
  if (steps) {
    steps.addEventListener("click", function () {
      var shown = document.body.classList.toggle("show-steps");
      steps.setAttribute("aria-pressed", String(shown));
      steps.textContent = shown ? "Hide single steps" : "Show single steps";
    });
  }
  var data = document.getElementById("replay-data");
  if (!data) { return; }
  var walks = JSON.parse(data.textContent);
  var slider = document.getElementById("replay-time");
  var button = document.getElementById("replay-play");
  var timer = null;
  function show(share) {
    walks.forEach(function (walk, number) {
      var frame = walk.frames[Math.round(share * (walk.frames.length - 1))];
      frame.forEach(function (points, leg) {
        var line = document.querySelector("#replay-" + number + " [data-leg='" + leg + "'] polyline");
        if (line) { line.setAttribute("points", points); }
      });
    });
  }
  function stop() { window.clearInterval(timer); timer = null; button.textContent = "Play"; }
  slider.addEventListener("input", function () { show(slider.value / 100); });
  button.addEventListener("click", function () {
    if (timer !== null) { stop(); return; }
    button.textContent = "Stop";
    timer = window.setInterval(function () {
      slider.value = (Number(slider.value) + 1) % 101;
      show(slider.value / 100);
    }, walks[0].duration_s * 20);
  });
}());
