// <sweep-plot src="/job/NAME/trace/KEY/WHAT.json">: helper w6 writes this file; page/traces.py says what the JSON holds.
