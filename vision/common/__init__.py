"""What every step may use: geometry, poses, the words of quantities, the seams between steps."""
