// Keeps the keys that a person presses inside a panel away from JupyterLab: D D on a focused button deletes the cell.

const keep = ({ target }) => {
  if (target.closest?.(".palea-panel")) target.dataset.lmSuppressShortcuts = "true"; // asked of the focused element itself
};

function render() {
  document.addEventListener("focusin", keep); // the same function again adds nothing
}

export default { render };
