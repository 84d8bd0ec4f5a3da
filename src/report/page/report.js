// Draws the page's charts with the chart library above from the data beside it. No network, no clock.
(function () {
  'use strict';
  var ink = '#16181c', faint = '#545a63', rule = '#d3cfc4';
  var data = JSON.parse(document.getElementById('chart-data').textContent);
  Chart.defaults.font.family = 'system-ui, "DejaVu Sans", sans-serif';
  Chart.defaults.font.size = 13;
  Chart.defaults.color = ink;
  Chart.defaults.animation = false;
  Chart.defaults.maintainAspectRatio = false;
  Chart.defaults.devicePixelRatio = Math.max(window.devicePixelRatio || 1, 3);  // sharp on paper

  function axis(title, extra) {
    return Object.assign({ title: { display: true, text: title, color: faint }, grid: { color: rule },
                           ticks: { color: ink } }, extra || {});
  }

  function limitLines(limits, count) {
    return limits.map(function (limit, i) {
      var points = [];
      for (var k = 0; k < count; ++k) points.push(limit.value);
      return { type: 'line', label: limit.name, data: points, borderColor: limit.hard ? '#a3131b' : faint,
               borderDash: limit.hard ? [7, 4] : [2, 4], borderWidth: 2, pointRadius: 0, pointStyle: 'line', order: 3 + i };
    });
  }

  function words(chart) {
    return {
      legend: { display: !!chart.legend, position: 'bottom', labels: { usePointStyle: true, boxWidth: 22, filter: function (item) { return item.text !== ''; } } },
      tooltip: { filter: function (item) { return item.dataset.label !== ''; },
                 callbacks: { label: function (item) { return chart.texts && item.dataset.hand !== undefined ? chart.texts[item.dataIndex] : item.dataset.label; } } }
    };
  }

  // Values with their intervals, one a cutter or one a day.
  function intervals(chart) {
    var sets = chart.series.map(function (series, i) {
      return { type: 'line', label: series.name, hand: i, data: series.values, showLine: !!chart.joined, spanGaps: true,
               borderColor: series.colour, borderWidth: 1.5, pointStyle: series.shape, pointRadius: 5,
               pointBackgroundColor: series.colour, pointBorderColor: '#fff', order: 1 };
    });
    chart.series.forEach(function (series) {
      sets.push({ type: 'bar', label: '', data: series.spans, backgroundColor: series.band, grouped: false,
                  maxBarThickness: 12, borderSkipped: false, borderRadius: 3, minBarLength: 2, order: 2 });
    });
    return { data: { labels: chart.labels, datasets: sets.concat(limitLines(chart.limits, chart.labels.length)) },
             options: { scales: { x: axis(chart.x_title, { grid: { display: false } }), y: axis(chart.y_title, { beginAtZero: false, min: chart.low, max: chart.high, ticks: { color: ink, includeBounds: false } }) },
                        plugins: words(chart) } };
  }

  // r(s) with its band, and the recession of the outline under it on an axis of its own.
  function edge(chart) {
    function line(points, more) { return Object.assign({ type: 'line', data: points, pointRadius: 0, parsing: false, spanGaps: false, pointStyle: 'line', yAxisID: 'y' }, more); }
    var last = chart.last_mm, scales = { x: axis('mm from the working corner', { type: 'linear', min: 0, max: last }) };
    var sets = [
      line(chart.upper, { label: '', borderWidth: 0, fill: '+1', backgroundColor: 'rgba(22,24,28,.16)' }),
      line(chart.lower, { label: '', borderWidth: 0 }),
      line(chart.radius, { label: 'rounding, µm', borderColor: ink, borderWidth: 2.5 })
    ];
    chart.limits.forEach(function (limit) {
      sets.push(line([{ x: 0, y: limit.value }, { x: last, y: limit.value }], { label: limit.name, borderColor: limit.hard ? '#a3131b' : faint,
                borderDash: limit.hard ? [7, 4] : [2, 4], borderWidth: 2 }));
    });
    if (chart.recession.length) {
      sets.push(line(chart.recession, { label: 'set back, mm', borderColor: '#7a4a00', borderWidth: 2, fill: 'origin', backgroundColor: 'rgba(255,183,27,.45)', yAxisID: 'yBack' }));
      scales.yBack = axis('mm', { axis: 'y', position: 'left', reverse: true, min: 0, suggestedMax: 0.1, stack: 'edge', stackWeight: 2, ticks: { maxTicksLimit: 3, color: ink } });
    }
    scales.y = axis('µm', { position: 'left', min: 0, suggestedMax: chart.high, stack: 'edge', stackWeight: 3, ticks: { maxTicksLimit: 5, color: ink } });
    return { data: { datasets: sets }, options: { scales: scales, plugins: words({ legend: true }), interaction: { intersect: false, mode: 'nearest' } } };
  }

  var drawn = [];
  document.querySelectorAll('canvas[data-chart]').forEach(function (canvas) {
    var chart = data[canvas.getAttribute('data-chart')];
    if (chart) drawn.push(new Chart(canvas, chart.kind === 'edge' ? edge(chart) : intervals(chart)));
  });
  // The sheet alone, or with all that stands behind it.
  document.querySelectorAll('button[data-print]').forEach(function (button) {
    button.addEventListener('click', function () {
      document.documentElement.classList.toggle('sheet-only', button.getAttribute('data-print') === 'bench');
      window.print();
    });
  });
  window.addEventListener('afterprint', function () { document.documentElement.classList.remove('sheet-only'); });
  window.addEventListener('beforeprint', function () {
    document.querySelectorAll('details').forEach(function (part) { part.open = true; });
  });
  document.documentElement.setAttribute('data-charts', String(drawn.length));
})();
