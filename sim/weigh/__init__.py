"""Every fix in one table, criterion by criterion, and which ones nothing beats."""
