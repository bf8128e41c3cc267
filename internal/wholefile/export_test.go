package wholefile

// Linked is linked.
var Linked = linked
