// Package people is the office's pages about who may sign and where: people
// with their roles, badges and PIN codes, and the tablets of the stations.
package people
