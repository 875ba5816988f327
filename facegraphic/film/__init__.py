"""What a process prints: ground, art, legends, hole marks and cut line; mirroring; sheets."""
