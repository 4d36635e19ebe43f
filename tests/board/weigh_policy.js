// Weighs a content security policy out of standard input with an outside evaluator. Prints what it
// finds as JSON: a list of severity (the smaller the worse), directive and description.
'use strict';
const { readFileSync } = require('node:fs');
const modules = `${process.argv[2]}/node_modules/csp_evaluator/dist`;
const { CspEvaluator } = require(`${modules}/evaluator.js`);
const { CspParser } = require(`${modules}/parser.js`);
const { Severity } = require(`${modules}/finding.js`);

const policy = new CspParser(readFileSync(0, 'utf8')).csp;
const found = new CspEvaluator(policy).evaluate();
console.log(JSON.stringify(found.map((finding) => ({
  severity: Severity[finding.severity],
  directive: finding.directive,
  value: finding.value,
  description: finding.description,
}))));
