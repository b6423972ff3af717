// Faults, not taste: how the page's modules look is ours.
import js from '@eslint/js';
import globals from 'globals';

export default [
  js.configs.recommended,
  {
    files: ['**/*.js'],
    languageOptions: { ecmaVersion: 2023, sourceType: 'module', globals: globals.browser },
    rules: { eqeqeq: 'error', 'no-var': 'error', 'prefer-const': 'error', 'no-implied-eval': 'error', 'no-new-func': 'error' },
  },
];
